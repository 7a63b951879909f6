"""The reference pitch of a take, and when something is plucked: what every judgement of a detector starts from."""
