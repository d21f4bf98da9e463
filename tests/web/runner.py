"""Runs the real command line with plugged readers for the phone's photos.

    python runner.py review --phone-address 127.0.0.1 ...

`RUNNER_SECONDS` shortens the time a photo may take.
"""

import os
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import plug

import stampreader.cli.opening
from stampreader.cli import main
from stampreader.photo import Limits
from stampreader.reading import StandingCrew


def phone_crew(_readers):
    """Readers whose worker does what a photo's width says."""
    seconds = float(os.environ.get("RUNNER_SECONDS", "10"))
    return StandingCrew(make_desk=plug.desk, limits=Limits(max_seconds=seconds))


stampreader.cli.opening.phone_crew = phone_crew

if __name__ == "__main__":
    main(sys.argv[1:])
