"""Settings of the kennel server.  Everything that differs between places comes from the environment."""

import os
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from django.core.exceptions import ImproperlyConfigured

from kennel import environment as env

BASE_DIR = Path(__file__).resolve().parent.parent

# --- where we are ------------------------------------------------------------------------------------------
ORIGIN = env.text("ORIGIN", "http://127.0.0.1:8000").rstrip("/")
_origin = urlsplit(ORIGIN)
IS_HTTPS = _origin.scheme == "https"
STATE_DIR = Path(env.text("STATE_DIR", str(BASE_DIR / ".state")))
SECRET_KEY = env.text("SECRET_KEY")
DEBUG = False
ALLOWED_HOSTS = [_origin.hostname or "127.0.0.1"]
CSRF_TRUSTED_ORIGINS = [ORIGIN]

# --- what is installed -------------------------------------------------------------------------------------
INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "rest_framework",
    "drf_spectacular",
    "kennel.people",  # before allauth: its templates take the place of allauth's
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "allauth.usersessions",
    "kennel",
    "kennel.records",
    "kennel.duties",
    "kennel.upkeep",
    "kennel.contacts",
    "kennel.reports",
    "kennel.api",
    "kennel.web",
    "litters",
    "litters.rollup",
    "feeding",
    "health",
]
MIDDLEWARE = [
    # Order matters: the body is read before anything touches the database (slow senders hold no connection).
    "kennel.api.middleware.request_id",
    "kennel.api.middleware.body_first",
    "kennel.api.middleware.problems_under_api",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "kennel.web.policy.page_policy",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "kennel.people.middleware.settled_csrf_cookie",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "kennel.people.middleware.tablet_turns",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "allauth.account.middleware.AccountMiddleware",
]
ROOT_URLCONF = "kennel.urls"
WSGI_APPLICATION = "kennel.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "kennel.web.context.surroundings",
            ]
        },
    }
]
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# --- database: three roles, see kennel/records/__init__.py -------------------------------------------------
WEB_THREADS = env.integer("WEB_THREADS", 32, least=1, most=512)
DB_POOL = env.integer("DB_POOL", 8, least=2, most=64)
# The worker ("jobs") writes records through the door like the web; its ticks use the alias `jobs` below.
_ROLE_URL = {"app": "DATABASE_URL", "owner": "OWNER_DATABASE_URL", "jobs": "DATABASE_URL"}
DB_ROLE = env.text("DB_ROLE", "app")
if DB_ROLE not in _ROLE_URL:
    raise ImproperlyConfigured(f"DB_ROLE must be one of {', '.join(_ROLE_URL)}.")


def _database(url_name: str, *, pooled: bool) -> dict[str, Any]:
    entry: dict[str, Any] = env.database(url_name)
    session = "-c timezone=UTC -c jit=off"  # short statements; compiling them costs more than it saves
    if url_name != "OWNER_DATABASE_URL":
        session += (
            " -c lock_timeout=500ms -c statement_timeout=10s -c idle_in_transaction_session_timeout=15s"
        )
    entry["OPTIONS"] = {
        "options": session,
        "connect_timeout": 5,
        "prepare_threshold": 3,
        "server_side_binding": True,
    }
    if pooled:
        entry["OPTIONS"]["pool"] = {"min_size": 1, "max_size": DB_POOL, "timeout": 5}
    entry["DISABLE_SERVER_SIDE_CURSORS"] = True
    return entry


DATABASES = {
    "default": _database(_ROLE_URL[DB_ROLE], pooled=env.flag("DB_POOLED", default=True) and DB_ROLE == "app"),
    "jobs": _database("JOBS_DATABASE_URL", pooled=False),
}
DATABASE_ROUTERS = ["kennel.records.routing.OneSchema"]

# --- Valkey: broker messages and expiring counters only ----------------------------------------------------
REDIS_URL = env.text("REDIS_URL")
CACHES = {
    "default": {
        "BACKEND": "kennel.records.cache.FallbackCache",
        "LOCATION": REDIS_URL,
        "KEY_PREFIX": "kennel",
    }
}

# --- people ------------------------------------------------------------------------------------------------
AUTH_USER_MODEL = "people.Carer"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
]
ACCOUNT_ADAPTER = "kennel.people.adapters.AccountAdapter"
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*", "password2*"]
ACCOUNT_SIGNUP_FORM_CLASS = "kennel.people.forms.SignupForm"
ACCOUNT_EMAIL_VERIFICATION = "optional"
ACCOUNT_PREVENT_ENUMERATION = True
ACCOUNT_SESSION_REMEMBER = True
ACCOUNT_LOGOUT_ON_PASSWORD_CHANGE = True
ACCOUNT_REAUTHENTICATION_TIMEOUT = 900
ACCOUNT_LOGOUT_ON_GET = False
ACCOUNT_DEFAULT_HTTP_PROTOCOL = _origin.scheme
# Wrong passwords and second factors: per address, and per account.  The passkey door has a limit of its own and
# none per account, so nobody's guessing can lock an owner's passkey out.
ACCOUNT_RATE_LIMITS = {"login": "30/m/ip", "login_failed": "10/m/ip,5/300s/key", "signup": "10/m/ip"}
MFA_RATE_LIMITS = {"webauthn_login": "30/m/ip"}
MFA_ADAPTER = "kennel.people.adapters.MfaAdapter"
MFA_FORMS = {"add_webauthn": "kennel.people.passkeys.PasskeyForm"}
MFA_SUPPORTED_TYPES = ["totp", "webauthn", "recovery_codes"]
MFA_PASSKEY_LOGIN_ENABLED = True
# Kennels without mail cannot verify addresses.  Who takes an unverified address back by a password reset gets
# it without the second factors somebody else may have put there: see kennel/people/services/accounts.py.
MFA_ALLOW_UNVERIFIED_EMAIL = True
MFA_TOTP_ISSUER = "Kennel server"
# "open": anybody who reaches the server may make an account; "invited": the invited, and the very first.
SIGN_UP = env.text("SIGN_UP", "open")
if SIGN_UP not in {"open", "invited"}:
    raise ImproperlyConfigured("SIGN_UP must be open or invited.")
# How many proxies of our own stand in front and add to X-Forwarded-For; 0: the header is not read.
TRUSTED_PROXY_COUNT = env.integer("TRUSTED_PROXY_COUNT", 0, least=0, most=5)
MFA_WEBAUTHN_ALLOW_INSECURE_ORIGIN = not IS_HTTPS
USERSESSIONS_TRACK_ACTIVITY = False
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "/"
SESSION_COOKIE_AGE = 60 * 60 * 24 * 60
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = IS_HTTPS
SESSION_COOKIE_NAME = "__Host-session" if IS_HTTPS else "session"
CSRF_COOKIE_NAME = "__Host-csrf" if IS_HTTPS else "csrf"
CSRF_FAILURE_VIEW = "kennel.web.errors.stale_form"
CSRF_COOKIE_HTTPONLY = False  # the offline shell sends the token from script
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"

# --- answers -----------------------------------------------------------------------------------------------
SECURE_SSL_REDIRECT = False  # the proxy or the server's own TLS listener is the only door under https
SECURE_HSTS_SECONDS = 31_536_000 if IS_HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = False
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
if _trusted := env.text("TRUSTED_PROXY_HEADER", ""):
    SECURE_PROXY_SSL_HEADER = (_trusted, "https")
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'self'"],
        "img-src": ["'self'", "data:"],
        "object-src": ["'none'"],
        "base-uri": ["'none'"],
        "frame-ancestors": ["'none'"],
        "form-action": ["'self'"],
    },
}
DATA_UPLOAD_MAX_MEMORY_SIZE = FILE_UPLOAD_MAX_MEMORY_SIZE = (
    5 * 1024 * 1024
)  # an imported file; JSON is held to 1 MiB
QUOTA_PER_MINUTE = env.integer("QUOTA_PER_MINUTE", 600, least=1, most=100_000_000)

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "kennel.api.authentication.DeviceTokenAuthentication",
        "kennel.api.authentication.CarerSessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["kennel.api.rendering.JsonRenderer"],
    "DEFAULT_PARSER_CLASSES": ["kennel.api.parsing.StrictJsonParser", "kennel.api.parsing.MergePatchParser"],
    "DEFAULT_SCHEMA_CLASS": "kennel.api.schema.KennelSchema",
    "EXCEPTION_HANDLER": "kennel.api.problems.problem_for_exception",
    "UNAUTHENTICATED_USER": None,
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Kennel server",
    "VERSION": "1",
    "OAS_VERSION": "3.1.1",
    "DESCRIPTION": "Shared records and reminders of a breeding kennel. Every write is safe to send again.",
    "SERVE_INCLUDE_SCHEMA": False,
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "PREPROCESSING_HOOKS": ["kennel.api.schema.only_api"],
    "POSTPROCESSING_HOOKS": ["kennel.api.schema.finish"],
    "SECURITY": [{"deviceToken": []}, {"session": []}],
    "APPEND_COMPONENTS": {
        "securitySchemes": {
            "deviceToken": {"type": "http", "scheme": "bearer"},
            "session": {"type": "apiKey", "in": "cookie", "name": SESSION_COOKIE_NAME},
        }
    },
}

# --- language, time, files ---------------------------------------------------------------------------------
LANGUAGE_CODE = "en-gb"
LANGUAGES = [("en-gb", "English")]
USE_I18N = True
TIME_ZONE = "UTC"
USE_TZ = True
STATIC_URL = "/static/"
STATIC_ROOT = None  # whitenoise serves straight from the apps; nothing to collect
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = False

# --- mail --------------------------------------------------------------------------------------------------
_mail = env.mail("EMAIL_URL")
MAIL_CONFIGURED = bool(_mail.pop("MAIL_CONFIGURED"))
globals().update(_mail)
DEFAULT_FROM_EMAIL = env.text("MAIL_FROM", f"kennel@{_origin.hostname or 'localhost'}")

# --- jobs --------------------------------------------------------------------------------------------------
CELERY_BROKER_URL = REDIS_URL
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_TASK_IGNORE_RESULT = True
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_TASK_SERIALIZER = "json"
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BROKER_TRANSPORT_OPTIONS = {
    "unacked_restore_interval": 2,
    "unacked_restore_throttle": 1,
    "visibility_timeout": 120,
}
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_TIMEZONE = "UTC"

# --- backups -----------------------------------------------------------------------------------------------
CAN_BACK_UP = bool(os.environ.get("OWNER_DATABASE_URL"))  # the worker and commands; never the web
BACKUP_COPY_TO = env.text("BACKUP_COPY_TO", "")  # a mounted folder off this machine

# --- logs --------------------------------------------------------------------------------------------------
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"json": {"()": "kennel.log_format.formatter"}},
    "handlers": {"out": {"class": "logging.StreamHandler", "formatter": "json"}},
    "root": {"handlers": ["out"], "level": env.text("LOG_LEVEL", "INFO")},
    "loggers": {
        "django.request": {"level": "ERROR"},
        "django.security.DisallowedHost": {"level": "CRITICAL"},
    },
}
SILENCED_SYSTEM_CHECKS = [
    "security.W005",  # a kennel's name must not decide for other names of the same domain
    "security.W008",  # plain http is not listened to beside https; the proxy redirects
    "security.W021",  # preload lists are for the owner of the domain to enter
]
