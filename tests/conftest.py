"""How the random tests of this suite run: the same cases every time, unless somebody asks for new ones."""

import os

from hypothesis import HealthCheck, settings

settings.register_profile("everyday", deadline=None, derandomize=True)
# For a machine that may be slow and whose report is read elsewhere.
settings.register_profile(
    "ci", settings.get_profile("everyday"), print_blob=True, suppress_health_check=[HealthCheck.too_slow]
)
# For a night: `python -m pytest --hypothesis-profile=long tests tests/long`.
settings.register_profile("long", deadline=None, derandomize=False, max_examples=10_000)

settings.load_profile("ci" if os.environ.get("CI") else "everyday")
