"""What all tests share: no test touches a real register, and which tests are collected.

Those of the training need torch and run only when asked for.
"""

import os

import pytest
from hypothesis import settings

settings.register_profile("shared", deadline=None)  # another program may hold the machine
settings.load_profile("shared")

TRAINING = os.environ.get("STAMPREADER_TEST_TRAIN") == "1"

collect_ignore = [] if TRAINING else ["train"]


def pytest_terminal_summary(terminalreporter):
    """Say in one line when the training tests were left out, so that nobody takes them for run."""
    if not TRAINING:
        terminalreporter.write_line(
            "tests/train was not collected (it needs torch): STAMPREADER_TEST_TRAIN=1 collects it."
        )


@pytest.fixture(scope="session", autouse=True)
def _no_real_register(tmp_path_factory):
    """Without `--register` a test meets an empty user data folder, never the person's own."""
    os.environ.pop("STAMPREADER_REGISTER", None)
    os.environ["XDG_DATA_HOME"] = str(tmp_path_factory.mktemp("user-data"))
