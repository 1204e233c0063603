"""Self-test of a rig, part by part."""

from frothline.bench.self_test.result import ABSENT, FAULTY, GOOD, ODD, SKIPPED, PartResult, Progress, ReportCard
from frothline.bench.self_test.self_test import SelfTest

__all__ = ["ABSENT", "FAULTY", "GOOD", "ODD", "SKIPPED", "PartResult", "Progress", "ReportCard", "SelfTest"]
