"""Settings for tests: a throw-away home, plain static files, runs carried out at once."""

import os
import tempfile

os.environ["HIDEWRIGHT_HOME"] = tempfile.mkdtemp(prefix="hidewright-test-")

from hidewright.workshop.settings import *  # noqa: F403

SECRET_KEY = "only-for-tests"
ALLOWED_HOSTS = [*ALLOWED_HOSTS, "testserver"]  # noqa: F405
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
TASKS = {"default": {"BACKEND": "django_tasks.backends.immediate.ImmediateBackend"}}
STATIC_ROOT.mkdir(exist_ok=True)  # noqa: F405
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
"""Quick, since nothing here is a secret; what the shop uses is asserted in tests/workshop/front/test_roles.py."""
WHITENOISE_AUTOREFRESH = True
"""A static file is looked for when it is asked for: reading all of them for each of some thousand clients costs 20 ms apiece."""
