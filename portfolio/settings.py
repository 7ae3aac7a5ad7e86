"""Settings. Everything that differs between installations comes from the environment (docs/operations.md).

With an empty environment this is the embedded default: one SQLite file and no broker, all under ``var/``.
"""

import secrets
import sqlite3
from pathlib import Path
from typing import Any

import environ

from portfolio.sqlite import wal_is_sound

BASE_DIR = Path(__file__).resolve().parent.parent
env = environ.FileAwareEnv()

VAR_DIR = Path(env.str("VAR_DIR", default=str(BASE_DIR / "var")))
VAR_DIR.mkdir(parents=True, exist_ok=True)


def _local_secret(path: Path) -> str:
    """The key of an embedded installation: made once, kept beside its data, never in the tree."""
    if not path.exists():
        path.touch(mode=0o600)
        path.write_text(secrets.token_urlsafe(64))
    return path.read_text()


SECRET_KEY = env.str("SECRET_KEY", default="") or _local_secret(VAR_DIR / "secret_key")
SECRET_KEY_FALLBACKS = env.list("SECRET_KEY_FALLBACKS", default=[])
DEBUG = False
ALLOWED_HOSTS = env.list("ALLOWED_HOSTS", default=["localhost", "127.0.0.1", "[::1]"])
CSRF_TRUSTED_ORIGINS = env.list("CSRF_TRUSTED_ORIGINS", default=[])

INSTALLED_APPS = [
    "django.contrib.contenttypes",
    "django.contrib.auth",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "rest_framework",
    "drf_spectacular",
    "portfolio.apps.PortfolioConfig",
    "commissioning.apps.CommissioningConfig",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "portfolio.door.middleware.RequestIdMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "csp.middleware.CSPMiddleware",
]

ROOT_URLCONF = "portfolio.urls"
WSGI_APPLICATION = "portfolio.wsgi.application"
AUTH_USER_MODEL = "portfolio.Person"
LOGIN_URL = "/login"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "/login"
CSRF_FAILURE_VIEW = "portfolio.dashboards.faults.csrf_failure"
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 15},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ],
        },
    },
]

# --- data -----------------------------------------------------------------------------------------------------
DATABASES: dict[str, dict[str, Any]] = {
    "default": env.db_url("DATABASE_URL", default=f"sqlite:///{VAR_DIR / 'ventfolio.sqlite3'}")
}
_database = DATABASES["default"]
_database["CONN_MAX_AGE"] = None  # a connection per request costs more than the request's own statements
if _database["ENGINE"].endswith("sqlite3"):
    _journal = "WAL" if wal_is_sound(sqlite3.sqlite_version_info) else "DELETE"
    _database["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": (f"PRAGMA journal_mode={_journal}; PRAGMA synchronous=FULL; PRAGMA recursive_triggers=ON;"),
    }
else:
    _database["CONN_HEALTH_CHECKS"] = True
    _database["OPTIONS"] = {
        "options": "-c statement_timeout=120000 -c lock_timeout=3000 -c idle_in_transaction_session_timeout=30000"
        " -c synchronous_commit=on",
    }
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
BLOB_DIR = Path(env.str("BLOB_DIR", default=str(VAR_DIR / "blobs")))

# --- jobs -----------------------------------------------------------------------------------------------------
# The job table is the truth; a broker only carries ids. Without one, `run_jobs` claims the rows itself.
BROKER_URL = env.str("BROKER_URL", default="")
JOB_LEASE_S = env.int("JOB_LEASE_S", default=30)
JOB_TRIES = env.int("JOB_TRIES", default=3)
JOB_HANDLERS = {
    "judge": "commissioning.pipeline.judge",
    "binder": "commissioning.pipeline.binder",
    "rejudge": "commissioning.pipeline.rejudge",
    "log": "commissioning.pipeline.log",
    "analyse": "commissioning.pipeline.analyse",
    "renew": "commissioning.pipeline.renew",
}
EQUIPMENT_WORDS = "commissioning.evidence.own_equipment.words_of"  # what a firm's schedules name of its own
LOG_MEMORY_MB = env.int("LOG_MEMORY_MB", default=4096)  # address space of the process that reads a trend log
LOG_SECONDS = env.int("LOG_SECONDS", default=240)

# --- how often: in a quarter of an hour (portfolio/door/limits.py) --------------------------------------------
LOGIN_TRIES_PER_ACCOUNT = env.int("LOGIN_TRIES_PER_ACCOUNT", default=10)
LOGIN_TRIES_PER_ADDRESS = env.int("LOGIN_TRIES_PER_ADDRESS", default=50)
ANSWERS_PER_LINK = env.int("ANSWERS_PER_LINK", default=100)
SUBMISSIONS_PER_PERSON = env.int("SUBMISSIONS_PER_PERSON", default=20_000)

# --- the HTTP edge --------------------------------------------------------------------------------------------
DATA_UPLOAD_MAX_MEMORY_SIZE = 12 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "portfolio.door.authentication.DeviceTokenAuthentication",
        "portfolio.door.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["portfolio.door.permissions.Nobody"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["portfolio.door.parsers.StrictJSONParser"],
    "DEFAULT_SCHEMA_CLASS": "portfolio.door.openapi.DoorSchema",
    "EXCEPTION_HANDLER": "portfolio.door.problems.exception_handler",
    "UNAUTHENTICATED_USER": None,
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Ventfolio",
    "DESCRIPTION": "Evidence in, verdict derived. See docs/api.md.",
    "VERSION": "1",
    "OAS_VERSION": "3.1.1",
    "SERVE_INCLUDE_SCHEMA": False,
    "COMPONENT_SPLIT_REQUEST": True,
    "ENUM_ADD_EXPLICIT_BLANK_NULL_CHOICE": False,
    "ENUM_NAME_OVERRIDES": {
        "PositionKind": "portfolio.models.Position.Kind",
        "PositionScope": "portfolio.models.Position.Scope",
        "TokenScope": "portfolio.models.DeviceToken.Scope",
        "ScopeKind": "portfolio.api.forms.SCOPE_KINDS",
    },
    "POSTPROCESSING_HOOKS": ["drf_spectacular.hooks.postprocess_schema_enums", "portfolio.door.openapi.finish"],
}

TLS = env.bool("BEHIND_TLS", default=False)
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if TLS else None
SECURE_SSL_REDIRECT = TLS
SECURE_HSTS_SECONDS = 31_536_000 if TLS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = TLS
SECURE_HSTS_PRELOAD = TLS
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = TLS
SESSION_COOKIE_NAME = "__Host-session" if TLS else "session"
CSRF_COOKIE_NAME = "__Host-csrf" if TLS else "csrf"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
X_FRAME_OPTIONS = "DENY"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'none'"],
        "script-src": ["'self'"],
        "style-src": ["'self'"],
        "img-src": ["'self'", "blob:"],
        "font-src": ["'self'"],
        "connect-src": ["'self'"],
        "form-action": ["'self'"],
        "frame-ancestors": ["'none'"],
        "base-uri": ["'none'"],
    }
}

# --- language, time, files ------------------------------------------------------------------------------------
LANGUAGE_CODE = "en"
USE_I18N = False
USE_TZ = True
TIME_ZONE = "UTC"
STATIC_URL = "/static/"
STATIC_ROOT = VAR_DIR / "static"
STATIC_ROOT.mkdir(exist_ok=True)  # nothing is collected into it on an embedded installation
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedStaticFilesStorage"},
}
WHITENOISE_USE_FINDERS = True
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "%(asctime)s %(levelname)s %(name)s %(message)s"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": env.str("LOG_LEVEL", default="WARNING")},
}
