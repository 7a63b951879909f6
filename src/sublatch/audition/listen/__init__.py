"""As heard and as measured: matching, loudspeaker and bed, balance, lock."""
