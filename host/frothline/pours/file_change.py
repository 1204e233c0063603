"""A change of a file that a person wrote, as a text: every line stays, with its comments and line ends.

A line that is replaced stays above the new one as a comment. The new text is read before it is written, so that a file
in another form than the one expected is refused and unchanged.
"""

from __future__ import annotations

import copy
import re
import threading
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from frothline.atomic_file import write_atomically
from frothline.errors import InputError
from frothline.pours.new_pour import printable, quoted
from frothline.toml_text import TomlUnreadable, hide_texts, read_text, read_toml

Document = dict[str, Any]
_HEAD = re.compile(r"\s*(?P<open>\[\[?)\s*(?P<name>[A-Za-z0-9_-]+)\s*\]\]?\s*")
_WRITING = threading.Lock()  # of two changes of this program, the second one reads what the first one wrote


def change_file(
    path: Path,
    change: Callable[[str, Document], tuple[str, Document]],
    problems: Callable[[str, Path], Sequence[str]] | None = None,
    *,
    write: bool = True,
) -> None:
    """Change a file in one step; without ``write`` only find out whether it can be.

    change : gets text and document, and returns both as they shall be
    problems : of a text, a sentence each; one that the old text did not have refuses the change

    Raises InputError if the file cannot be read or is in another form, and for new problems; NoSpace,
    RecordingUnwritable. The file is unchanged then.
    """
    with _WRITING:
        old = _text(path)
        try:
            document = read_toml(old)
        except TomlUnreadable as error:
            raise InputError(f"the file is not TOML: {error}", where=str(path), remedy="Fix it by hand") from error
        before = () if problems is None else problems(old, path)
        new, wanted = change(old, copy.deepcopy(document))
        try:
            same = read_toml(new) == wanted
        except TomlUnreadable as error:
            raise _by_hand(path, str(error)) from error
        if not same:
            raise _by_hand(path, "its tables are not written line by line below their heads")
        after = () if problems is None else problems(new, path)
        said = [one.removeprefix(f"{path.name}: ") for one in after if one not in before]
        if said:
            raise InputError("; ".join(said), where=path.name, remedy="Nothing is written yet: fix these entries")
        if write:
            write_atomically(path, lambda file: file.write(new.encode("utf-8")))


def _by_hand(path: Path, why: str) -> InputError:
    return InputError(f"the program cannot write into this file: {why}", where=str(path), remedy="Write it in by hand")


def _text(path: Path) -> str:
    """The text with its own line ends. Raises InputError."""
    try:
        read_text(path)  # refuses what is no ordinary file, and what is too large
        return path.read_bytes().decode("utf-8")
    except (OSError, TomlUnreadable) as error:
        words = getattr(error, "strerror", None) or error
        raise InputError(f"the file cannot be read: {words}", where=str(path), remedy="Check the file") from error


def line_end(text: str) -> str:
    """The line end that the file has."""
    return "\r\n" if "\r\n" in text else "\n"


def table_lines(text: str, name: str, number: int) -> tuple[list[str], int, int]:
    """All lines, and where the table of that name begins and ends; both are 0 where it is not written in lines.

    The empty name is that of the entries above the first table.
    """
    lines = [line for line in re.split(r"(?<=\n)", text) if line]
    plain = hide_texts(text).split("\n")
    heads = [(k, found) for k, line in enumerate(plain) if (found := _HEAD.fullmatch(line))]
    if not name:
        first = heads[0][0] if heads else len(lines)
        return lines, 0, 1 + max((k for k in range(first) if _is_written(lines[k])), default=-1)
    own = [k for k, found in heads if found["name"] == name]
    if len(own) < number:
        return lines, 0, 0
    begin = own[number - 1]
    end = next((k for k, _ in heads if k > begin), len(lines))
    while end > begin + 1 and not _is_written(lines[end - 1]):
        end -= 1  # comments above the next table belong to it
    return lines, begin, end


def _is_written(line: str) -> bool:
    """Whether a line is neither empty nor a comment."""
    return bool(line.strip()) and not line.lstrip().startswith("#")


def with_entries(text: str, name: str, number: int, entries: Mapping[str, str]) -> str:
    """The text with these entries in a table; a line for the same key becomes a comment above the new one.

    name : of the table; empty for the entries above the first one
    entries : texts by key; an empty one makes a comment of the line
    """
    ending = line_end(text)
    lines, begin, end = table_lines(text, name, number)
    new = {key: f"{key} = {quoted(value)}{ending}" for key, value in entries.items() if value}
    if end == 0 and not name:
        return f"{''.join(new.values())}{text}"
    if end == 0 and not new:
        return text
    if end == 0:
        gap = "" if not text.strip() else ending if text.endswith("\n") else 2 * ending
        return f"{text}{gap}[{name}]{ending}{''.join(new.values())}"
    if not lines[end - 1].endswith("\n"):
        lines[end - 1] += ending
    changed = []
    for k in range(begin, end):
        key = re.match(r"\s*([A-Za-z0-9_-]+)\s*=", lines[k])
        if key is None or key[1] not in entries:
            changed.append(lines[k])
            continue
        changed.append(f"# {lines[k]}")
        if key[1] in new:
            changed.append(new.pop(key[1]))
    return "".join([*lines[:begin], *changed, *new.values(), *lines[end:]])


def with_changes(text: str, document: Document, entries: Mapping[str, str], where: str) -> tuple[str, Document]:
    """As ``with_values`` for entries of several tables, by path like "masses.cement"."""
    for table in dict.fromkeys(path.rpartition(".")[0] for path in entries):
        own = {
            path.rpartition(".")[2]: printable(one).strip()
            for path, one in entries.items()
            if path.rpartition(".")[0] == table
        }
        text, document = with_values(text, document, table, own, where)
    return text, document


def with_values(
    text: str, document: Document, table: str, entries: Mapping[str, str], where: str
) -> tuple[str, Document]:
    """Text and document with these entries in ``table``, see ``with_entries``.

    where : the file, for the error. Raises InputError if ``table`` is the name of an entry that is no table.
    """
    values = document.setdefault(table, {}) if table else document
    if not isinstance(values, dict):
        raise InputError(f"“{table}” is not a table", where=where, remedy=f"Write the entries below [{table}]")
    for key, one in entries.items():
        if one:
            values[key] = one
        else:
            values.pop(key, None)
    if table and not values and not table_lines(text, table, 1)[2]:
        del document[table]
    return with_entries(text, table, 1, entries), document
