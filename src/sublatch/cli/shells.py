"""The Tab key in bash and zsh: settings such as knobs.tone=3.5 in one piece, and no blank after an equals sign.

Bash cuts the line at every equals sign, and wants only what comes after the last one. Both shells put a blank after
what they complete, unless they are told otherwise, which is right after neither an equals sign nor a folder's slash.
"""

from __future__ import annotations

from typing import Any

from click.shell_completion import BashComplete, CompletionItem, ZshComplete, add_completion_class


class WholeSettingsBash(BashComplete):
    """Bash, with its words joined again where it has cut them at an equals sign."""

    source_template = BashComplete.source_template.replace(
        "    return 0\n", '    [[ "${COMPREPLY[0]}" == *[=/] ]] && compopt -o nospace\n\n    return 0\n', 1
    )

    def get_completion_args(self) -> tuple[list[str], str]:
        """Return the whole words before the cursor, and what is typed of the one at the cursor."""
        words, incomplete = super().get_completion_args()
        whole: list[str] = []
        for piece in (*words, incomplete):
            if whole and (piece == "=" or whole[-1].endswith("=")):
                whole[-1] += piece
            else:
                whole.append(piece)
        return whole[:-1], whole[-1]

    def format_completion(self, item: CompletionItem[Any]) -> str:
        """Return a completion as bash wants it: of a setting with its value, only the value."""
        _, equals, value = str(item.value).partition("=")
        return super().format_completion(CompletionItem(value, item.type) if equals and value else item)


class WholeSettingsZsh(ZshComplete):
    """Zsh, without a blank after what goes on."""

    source_template = (
        ZshComplete.source_template.replace(
            '    if [ -n "$completions_with_descriptions" ]; then\n',
            "    local -a goes_on\n"
            '    [[ "${completions[1]}${completions_with_descriptions[1]%%:*}" == *[=/] ]] && goes_on=(-S "")\n\n'
            '    if [ -n "$completions_with_descriptions" ]; then\n',
        )
        .replace("completions_with_descriptions -U\n", 'completions_with_descriptions -U "${goes_on[@]}"\n')
        .replace("compadd -U", 'compadd "${goes_on[@]}" -U')
    )


def register() -> None:
    """Have these used for bash and zsh."""
    add_completion_class(WholeSettingsBash)
    add_completion_class(WholeSettingsZsh)
