"""Which tests are collected: those of the training need torch and run only when asked for."""

import os

TRAINING = os.environ.get("STAMPREADER_TEST_TRAIN") == "1"

collect_ignore = [] if TRAINING else ["train"]


def pytest_terminal_summary(terminalreporter):
    """Say in one line when the training tests were left out, so that nobody takes them for run."""
    if not TRAINING:
        terminalreporter.write_line(
            "tests/train was not collected (it needs torch): STAMPREADER_TEST_TRAIN=1 collects it."
        )
