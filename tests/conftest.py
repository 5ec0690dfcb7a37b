"""What all tests share: workers and child programs find tests/support as the tests do."""

import os
from pathlib import Path

SUPPORT = Path(__file__).parent / "support"
os.environ["PYTHONPATH"] = os.pathsep.join(
    part for part in (str(SUPPORT), os.environ.get("PYTHONPATH", "")) if part
)
from hypothesis import settings

settings.register_profile("nightglass", deadline=None)
settings.load_profile("nightglass")
