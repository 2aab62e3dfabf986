"""Every error saltglaze raises on purpose, in one tree.

SaltglazeError
├── InputError      evidence or settings that cannot be used as given
│   ├── MediaError  a video or audio file that cannot be decoded
│   └── RecordError a saved record that cannot be read or migrated
└── MissingPartError     an optional part (a speech model, a browser) is not installed

Each carries what went wrong, where (file, line, field), what was expected, and
what to do about it; ``str(error)`` is the one sentence a person reads.
"""

from __future__ import annotations


class SaltglazeError(Exception):
    """Root of all deliberate errors.

    Parameters are plain text. ``where`` names a file, line or field as closely
    as it is known; ``expected`` and ``mend`` may be empty.
    """

    def __init__(self, what: str, *, where: str = "", expected: str = "", mend: str = "") -> None:
        self.what = what
        self.where = where
        self.expected = expected
        self.mend = mend
        super().__init__(self.sentence())

    def sentence(self) -> str:
        """Return the error as one sentence: where, what, expected, mend."""
        text = f"{self.where}: {self.what}" if self.where else self.what
        if self.expected:
            text += f"; expected {self.expected}"
        if self.mend:
            text += f"; {self.mend}"
        return text + "."


class InputError(SaltglazeError):
    """Evidence or settings that cannot be used as given."""


class MediaError(InputError):
    """A video or audio file that cannot be decoded."""


class RecordError(InputError):
    """A saved record that cannot be read or migrated."""


class MissingPartError(SaltglazeError):
    """An optional part is not installed."""
