"""Settings in one file; the environment overrides, and what it says must be readable."""

import os
from pathlib import Path
from urllib.parse import unquote, urlparse

from django.core.exceptions import ImproperlyConfigured
from django.core.management.utils import get_random_secret_key

BASE_DIR = Path(__file__).resolve().parent.parent


def env_bool(name: str, default: bool) -> bool:
    value = os.environ.get(name)
    if value is None:
        return default
    if value in ("True", "False"):
        return value == "True"
    raise ImproperlyConfigured(f"{name} must be True or False, not {value!r}")


def env_list(name: str, default: list[str]) -> list[str]:
    value = os.environ.get(name)
    return default if value is None else [v for v in value.split(",") if v]


DATA_DIR = Path(os.environ.get("WORKSHOP_DATA_DIR", BASE_DIR / "data"))
"""Database, made packs and the secret key; outside what the web server serves."""

DEBUG = env_bool("WORKSHOP_DEBUG", False)
HTTPS = env_bool("WORKSHOP_HTTPS", False)
ALLOWED_HOSTS = env_list("WORKSHOP_HOSTS", ["127.0.0.1", "localhost", "[::1]"])
CSRF_TRUSTED_ORIGINS = env_list("WORKSHOP_TRUSTED_ORIGINS", [])


def secret_key() -> str:
    """Read the key, or make one on first start and keep it beside the database."""
    if key := os.environ.get("WORKSHOP_SECRET_KEY"):
        return key
    path = DATA_DIR / "secret_key"
    if not path.exists():
        DATA_DIR.mkdir(parents=True, exist_ok=True)
        made = path.with_suffix(f".{os.getpid()}")
        made.touch(mode=0o600)
        made.write_text(get_random_secret_key())
        try:
            # link, not rename: of two processes starting together the first wins
            os.link(made, path)
        except FileExistsError:
            pass
        finally:
            made.unlink()
    return path.read_text().strip()


SECRET_KEY = secret_key()

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django_htmx",
    "axes",
    "workshop",
    "builds",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "workshop.http.SecurityHeadersMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "workshop.urls"
WSGI_APPLICATION = "workshop.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "workshop.http.shop_context",
            ],
            "builtins": ["workshop.templatetags.units"],
        },
    }
]


def database(url: str | None) -> dict[str, object]:
    """SQLite beside the app, or PostgreSQL when WORKSHOP_DATABASE_URL names one."""
    if not url:
        # No mmap_size: with short connections the system's SQLite lost acknowledged
        # writes. FULL survives a power cut; ticks are worth it.
        return {
            "ENGINE": "django.db.backends.sqlite3",
            "NAME": DATA_DIR / "workshop.sqlite3",
            "CONN_MAX_AGE": 600,
            "OPTIONS": {
                "transaction_mode": "IMMEDIATE",
                "timeout": 20,
                "init_command": "PRAGMA journal_mode=WAL;PRAGMA synchronous=FULL;"
                "PRAGMA cache_size=-16000;PRAGMA temp_store=MEMORY;",
            },
            "TEST": {"NAME": os.environ.get("WORKSHOP_TEST_DB")},
        }
    parts = urlparse(url)
    if parts.scheme not in ("postgres", "postgresql"):
        raise ImproperlyConfigured("WORKSHOP_DATABASE_URL must be postgresql://…")
    return {
        "ENGINE": "django.db.backends.postgresql",
        "NAME": parts.path.lstrip("/"),
        "USER": unquote(parts.username or ""),
        "PASSWORD": unquote(parts.password or ""),
        "HOST": parts.hostname or "",
        "PORT": str(parts.port or ""),
        "OPTIONS": {"pool": True},
    }


DATABASES = {"default": database(os.environ.get("WORKSHOP_DATABASE_URL"))}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "workshop.Person"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"django.contrib.auth.password_validation.{name}"}
    for name in (
        "UserAttributeSimilarityValidator",
        "MinimumLengthValidator",
        "CommonPasswordValidator",
        "NumericPasswordValidator",
    )
]
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "builds"
LOGOUT_REDIRECT_URL = "sign-in"

# Throttled sign-in: common practice, no source.
AXES_FAILURE_LIMIT = 8
AXES_COOLOFF_TIME = 0.25  # hours
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_RESET_ON_SUCCESS = True
AXES_LOCKOUT_TEMPLATE = "workshop/locked_out.html"
AXES_VERBOSE = False
AXES_DISABLE_ACCESS_LOG = True

SESSION_COOKIE_AGE = 12 * 3600  # one shift and the evening after it
SESSION_EXPIRE_AT_BROWSER_CLOSE = False
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_SECURE = HTTPS
CSRF_COOKIE_SECURE = HTTPS
CSRF_COOKIE_SAMESITE = "Lax"
SECURE_SSL_REDIRECT = HTTPS
SECURE_HSTS_SECONDS = 31536000 if HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = HTTPS
SECURE_HSTS_PRELOAD = HTTPS
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
if env_bool("WORKSHOP_BEHIND_PROXY", False):
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

LANGUAGE_CODE = "en-au"
TIME_ZONE = os.environ.get("WORKSHOP_TIME_ZONE", "Australia/Brisbane")
USE_I18N = False
USE_TZ = True
FORMAT_MODULE_PATH = None

STATIC_URL = "/static/"
STATICFILES_DIRS = [BASE_DIR / "static"]
STATIC_ROOT = BASE_DIR / "staticfiles"
# Served straight from static/, not collected first: while developing and in tests.
PLAIN_STATIC = DEBUG or env_bool("WORKSHOP_PLAIN_STATIC", False)
WHITENOISE_AUTOREFRESH = WHITENOISE_USE_FINDERS = PLAIN_STATIC
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if PLAIN_STATIC
        else "whitenoise.storage.CompressedManifestStaticFilesStorage"
    },
}
MEDIA_ROOT = DATA_DIR / "media"
PACK_DIR = DATA_DIR / "packs"

DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
}
