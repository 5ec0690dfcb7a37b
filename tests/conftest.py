"""What all tests share: workers and child programs find tests/support as the tests do, and no test
of properties fails because the machine is busy."""

import os
from pathlib import Path

from hypothesis import settings

SUPPORT = Path(__file__).parent / "support"
os.environ["PYTHONPATH"] = os.pathsep.join(
    part for part in (str(SUPPORT), os.environ.get("PYTHONPATH", "")) if part
)
settings.register_profile("nightglass", deadline=None)
settings.load_profile("nightglass")
