"""Django settings; what differs between shops comes from the environment.

HIDEWRIGHT_HOME: the folder of the database, the secret and the papers (default: a folder `.hidewright` in the
person's home). DATABASE_URL: another database, such as PostgreSQL. HIDEWRIGHT_HOSTS: names this server answers to,
comma-separated, beside the machine's own.
"""

import os
import secrets
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import dj_database_url

from hidewright.machine import one_thread

one_thread()

HOME = Path(os.environ.get("HIDEWRIGHT_HOME") or Path.home() / ".hidewright")
HERE = Path(__file__).resolve().parent


def _secret() -> str:
    """Read the server's secret, making it (readable by its owner only) on the first start."""
    HOME.mkdir(parents=True, exist_ok=True)
    place = HOME / "secret"
    try:
        descriptor = os.open(place, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return place.read_text(encoding="ascii")
    with os.fdopen(descriptor, "w", encoding="ascii") as file:
        secret = secrets.token_urlsafe(50)
        file.write(secret)
    return secret


def _time_zone() -> str:
    """The machine's own time zone, so that "today" is the shop's today; UTC where the machine does not tell."""
    try:
        told = os.environ.get("TZ") or str(Path("/etc/localtime").resolve()).partition("zoneinfo/")[2]
        return ZoneInfo(told).key if told else "UTC"
    except (ValueError, OSError, ZoneInfoNotFoundError):
        return "UTC"


SECRET_KEY = os.environ.get("HIDEWRIGHT_SECRET") or _secret()
DEBUG = os.environ.get("HIDEWRIGHT_DEBUG") == "1"
ALLOWED_HOSTS = ["localhost", "127.0.0.1", "[::1]"]
ALLOWED_HOSTS += [name for name in os.environ.get("HIDEWRIGHT_HOSTS", "").split(",") if name]

INSTALLED_APPS = [
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django_htmx",
    "django_tasks",
    "django_tasks_db",
    "hidewright.workshop",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "hidewright.workshop.frame.access.access_log",
    "hidewright.workshop.frame.middleware.page_policy",
    "hidewright.workshop.frame.middleware.answer_head",
    "hidewright.workshop.frame.full_disk.read_only_without_room",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "hidewright.workshop.frame.middleware.door",
    "django_htmx.middleware.HtmxMiddleware",
    "hidewright.workshop.frame.middleware.remember",
    "hidewright.workshop.frame.middleware.RefusalPages",
]
ROOT_URLCONF = "hidewright.workshop.urls"
WSGI_APPLICATION = "hidewright.workshop.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": sorted(HERE.glob("*/templates")),
        "APP_DIRS": False,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.messages.context_processors.messages",
                "hidewright.workshop.frame.pages.shop_context",
            ],
            "builtins": ["hidewright.workshop.templatetags.workshop", "hidewright.workshop.templatetags.far"],
        },
    }
]

SQLITE_OPTIONS = {
    "timeout": 20,
    "transaction_mode": "IMMEDIATE",
    "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON;",
}
DATABASES = {"default": dj_database_url.config(default=f"sqlite:///{HOME / 'hidewright.sqlite3'}")}
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    DATABASES["default"]["OPTIONS"] = {**DATABASES["default"].get("OPTIONS", {}), **SQLITE_OPTIONS}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend"}}

STATIC_URL = "/static/"
STATIC_ROOT = HOME / "static"
STATICFILES_DIRS: list[Path] = []
STATICFILES_FINDERS = [
    "django.contrib.staticfiles.finders.FileSystemFinder",
    "django.contrib.staticfiles.finders.AppDirectoriesFinder",
]
WHITENOISE_USE_FINDERS = True
PAPERS_ROOT = HOME / "papers"
PICTURES_ROOT = HOME / "pictures"
COPIES_ROOT = HOME / "copies"

SECURE = os.environ.get("HIDEWRIGHT_TLS") == "1"
"""Set by `serve --network`, or by whoever puts a proxy with a certificate in front."""
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE
SECURE_SSL_REDIRECT = SECURE
SECURE_HSTS_SECONDS = 3600 if SECURE else 0
SESSION_ENGINE = "hidewright.workshop.shop.sessions"
SESSION_COOKIE_NAME = "hidewright"
SESSION_COOKIE_AGE = 365 * 24 * 3600
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "hidewright.workshop.front.door_views.stale_form"
SECURE_CONTENT_TYPE_NOSNIFF = True
X_FRAME_OPTIONS = "DENY"
DATA_UPLOAD_MAX_MEMORY_SIZE = 20 * 2**20
FILE_UPLOAD_MAX_MEMORY_SIZE = 20 * 2**20
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"

LANGUAGE_CODE = "en-gb"
USE_I18N = False
USE_TZ = True
TIME_ZONE = os.environ.get("HIDEWRIGHT_TIME_ZONE") or _time_zone()
_ACCESS = (
    {
        "class": "logging.handlers.RotatingFileHandler",
        "filename": HOME / "access.log",
        "maxBytes": 10**7,
        "backupCount": 5,
        "delay": True,
    }
    if os.environ.get("HIDEWRIGHT_ACCESS_LOG") == "1"
    else {"class": "logging.NullHandler"}
)
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {"tokens": {"()": "hidewright.workshop.frame.access.WithoutTokens"}},
    "formatters": {"line": {"format": "%(asctime)s %(message)s"}},
    "handlers": {
        "stderr": {"class": "logging.StreamHandler", "filters": ["tokens"]},
        "access": {**_ACCESS, "filters": ["tokens"], "formatter": "line"},
    },
    "loggers": {
        "django": {"handlers": [], "level": "WARNING", "propagate": True},
        "hidewright.access": {"handlers": ["access"], "level": "INFO", "propagate": False},
    },
    "root": {"handlers": ["stderr"], "level": "WARNING"},
}
# W005 and W021: no subdomain is ours, and a shop's own certificate belongs on no list of the browsers'.
SILENCED_SYSTEM_CHECKS = ["staticfiles.W004", "security.W005", "security.W021"]
