"""The methodology of a release, written from what was actually done, and what changed since the last one."""

from stillroom.publish.methodology.difference import changes_between, changes_since
from stillroom.publish.methodology.writing import methodology_of, write_methodology

__all__ = ["changes_between", "changes_since", "methodology_of", "write_methodology"]
