"""How a command ends: its exit codes, and the words for a file that cannot be reached."""

from __future__ import annotations

import errno

DONE, LOOK, CALLED_WRONGLY, MISSING = 0, 1, 2, 3

_TROUBLES = {
    errno.ENOENT: (MISSING, "There is no file {name!r} here."),
    errno.ENOTDIR: (MISSING, "There is no file {name!r} here (a file named as a folder?)."),
    errno.ENAMETOOLONG: (MISSING, "There is no file {name!r} here: no name can be so long."),
    errno.EISDIR: (LOOK, "{name!r} is a folder, not a file (name the file in it?)."),
    errno.EACCES: (LOOK, "{name!r} may not be read from this account (ask whoever keeps it?)."),
    errno.ELOOP: (LOOK, "{name!r} is a link that leads back to itself (name the file itself?)."),
}
"""Exit code and sentence by what the system says of a file."""

_OTHERWISE = (LOOK, "{name!r} cannot be read: {why}.")


def file_trouble(problem: OSError) -> tuple[int, str]:
    """Exit code and sentence for a file that cannot be reached.

    >>> file_trouble(FileNotFoundError(errno.ENOENT, "No such file or directory", "a.wav"))
    (3, "There is no file 'a.wav' here.")
    """
    code, words = _TROUBLES.get(problem.errno or 0, _OTHERWISE)
    return code, words.format(name=str(problem.filename), why=problem.strerror)
