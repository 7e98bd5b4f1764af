"""What can go wrong on the way into and out of a results file, by cause."""

from __future__ import annotations


class ResultsError(ValueError):
    """Something about a results tree or a results file is not as it must be."""

    exit_code = 2


class VocabularyError(ResultsError):
    """An array, coordinate or attribute does not match the table of names."""


class MissingNumberError(ResultsError):
    """A NaN stands where the status beside it says that there is a number."""


class FileContentError(ResultsError):
    """An input file kept in the results is not what was put there."""


class ResultsFileError(ResultsError):
    """A file on disk cannot be read as results, or a tree cannot be written as such."""
