"""Recordings: the bytes as they arrived, written before they are decoded, and the files that belong to them.

Nothing here needs sensor code: ``frothline.readings`` turns a recording into SI values.
"""

from frothline.recording.catalogue import Catalogue
from frothline.recording.reader import VerifyReport, load, segments_of, verify
from frothline.recording.recorded import Recorded
from frothline.recording.segments import SUFFIX, Policy
from frothline.recording.summary import Entry
from frothline.recording.writer import RecordingWriter, WriterStatus

__all__ = [
    "SUFFIX",
    "Catalogue",
    "Entry",
    "Policy",
    "Recorded",
    "RecordingWriter",
    "VerifyReport",
    "WriterStatus",
    "load",
    "segments_of",
    "verify",
]
