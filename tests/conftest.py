"""What all tests share: property tests that measure no time, and a database that Playwright's loop does not upset."""

import os

from hypothesis import settings

os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")

settings.register_profile("here", deadline=None, print_blob=True)
settings.load_profile("here")
