"""Django's settings, from the one table of ``settings_table``."""

from __future__ import annotations

import secrets
from datetime import timedelta

from csp.constants import NONE, SELF

from standlight.web.settings_table import data_folder, setting


def _secret_key() -> str:
    """The key that signs cookies and upload permits, made on the first start."""
    place = data_folder() / "secret-key"
    if not place.exists():
        place.parent.mkdir(parents=True, exist_ok=True)
        place.touch(mode=0o600)
        place.write_text(secrets.token_urlsafe(48))
    return place.read_text().strip()


SECRET_KEY = _secret_key()
DEBUG = setting("STANDLIGHT_DEBUG") == "yes"
ALLOWED_HOSTS = [name.strip() for name in setting("STANDLIGHT_NAMES").split(",") if name.strip()]
SECURE = setting("STANDLIGHT_SECURE") == "yes"

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "axes",
    "csp",
    "django_q",
    "standlight.programme",
    "standlight.web",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "axes.middleware.AxesMiddleware",
    "standlight.web.way_back.way_back",
    "standlight.web.not_kept.not_kept",
]

ROOT_URLCONF = "standlight.web.urls"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "builtins": ["standlight.web.templatetags.dates"],
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "standlight.web.places.spine",
                "standlight.web.places.print_size",
            ],
        },
    }
]

DATABASES = {
    "default": {
        "ENGINE": "django.db.backends.sqlite3",
        "NAME": data_folder() / "standlight.sqlite3",
        "OPTIONS": {
            # Measured: with the default mode 186 of 400 concurrent writes failed
            # "locked", with IMMEDIATE and a write-ahead log none of 400.
            "transaction_mode": "IMMEDIATE",
            "timeout": 20,
            "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL;",
        },
    }
}
STANDLIGHT_FILES = data_folder() / "files"
STANDLIGHT_KEEP_TAKES_DAYS = int(setting("STANDLIGHT_KEEP_TAKES_DAYS"))

AUTH_USER_MODEL = "programme.Account"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
PASSWORD_HASHERS = ["standlight.web.sign_in.ModestArgon2Hasher"]
LOGIN_URL = "sign-in"

# A whole school shares one address, so the lock is on the card, never the address.
AXES_FAILURE_LIMIT = 6
AXES_COOLOFF_TIME = timedelta(minutes=15)
AXES_LOCKOUT_PARAMETERS = ["username"]
AXES_USERNAME_FORM_FIELD = "username"
AXES_USERNAME_CALLABLE = "standlight.web.sign_in.typed_name"
AXES_RESET_ON_SUCCESS = True
AXES_LOCKOUT_TEMPLATE = "locked.html"
AXES_VERBOSE = False
# A card code carries 40 random bits, so trying one PIN on many codes finds none;
# locking the shared address would lock out a whole school.
SILENCED_SYSTEM_CHECKS = ["axes.W006"]
AXES_ENABLE_ADMIN = False

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:"],
        "font-src": [SELF],
        "media-src": [SELF, "blob:"],
        "connect-src": [SELF],
        "worker-src": [SELF],
        "manifest-src": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "base-uri": [NONE],
    }
}
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_AGE = 14 * 24 * 3600
# A take of a few minutes in one file; longer ones arrive in numbered pieces.
DATA_UPLOAD_MAX_MEMORY_SIZE = 64 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 4 * 1024 * 1024
# The largest kind of work in its editor: 12 steps of 40 questions, ten fields each.
DATA_UPLOAD_MAX_NUMBER_FIELDS = 6000

Q_CLUSTER = {
    "name": "standlight",
    "orm": "default",
    "workers": int(setting("STANDLIGHT_WORKERS")),
    # The lease must outlast the longest job, or a slow take would be read twice.
    "timeout": int(setting("STANDLIGHT_LEASE_SECONDS")) - 5,
    "retry": int(setting("STANDLIGHT_LEASE_SECONDS")),
    "max_attempts": 5,
    "ack_failures": False,
    "poll": 0.3,
    "catch_up": False,
    "save_limit": 200,
    "queue_limit": 20,
    "bulk": 1,
    "label": "Errands",
}

STATIC_URL = "/static/"
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = DEBUG
WHITENOISE_MAX_AGE = 60

LANGUAGE_CODE = "en"
USE_TZ = True
TIME_ZONE = setting("STANDLIGHT_TIME_ZONE")
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
}
