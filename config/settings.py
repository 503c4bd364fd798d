"""Settings, all from the environment, the strict and closed value being the default."""

from pathlib import Path

from csp.constants import NONE, SELF

from config import env, mail, states

BASE_DIR = Path(__file__).resolve().parent.parent

# --- core
DEBUG = env.flag("DEBUG")
DEMO = env.flag("DEMO")  # allows load_demo and shows its log-ins on the log-in page
SECRET_KEY = env.secret("SECRET_KEY", "" if not DEBUG else "only-for-debugging-" + "x" * 40)
ALLOWED_HOSTS = env.listing("HOSTS") or (["127.0.0.1", "localhost", "[::1]"] if DEBUG or DEMO else [])
CSRF_TRUSTED_ORIGINS = env.listing("TRUSTED_ORIGINS")
ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

INSTALLED_APPS = [
    "config.apps.ConfigConfig",
    "reports",
    "inspections",
    "courses",
    "accounts",
    "ledger",
    "allauth",
    "allauth.account",
    "crispy_forms",
    "csp",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.forms",  # the templates of widgets, which the renderer below looks for in the applications
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "config.compress.CompressPages",
    "csp.middleware.CSPMiddleware",
    "django_permissions_policy.PermissionsPolicyMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "inspections.kept_pages.KeptPagesMiddleware",
    "accounts.keep.KeepExpiredPostMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "accounts.receiving.ReceiptMiddleware",
    "accounts.signing.SigningMiddleware",
]

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "courses.context.navigation",
            ],
        },
    },
]
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"
CRISPY_ALLOWED_TEMPLATE_PACKS = "lineworthy"
CRISPY_TEMPLATE_PACK = "lineworthy"

# --- database and files
DATA_DIR = Path(env.text("DATA_DIR", str(BASE_DIR / "var")))
DATABASES = {"default": env.database(BASE_DIR, DATA_DIR)}
MEDIA_ROOT = DATA_DIR / "files"  # photos, sources, papers by hash; served only through access functions
KEEP_YEARS = env.integer("KEEP_YEARS", 5)  # before that no name, note, photo or paper can be erased
CACHES = {
    "default": {
        # Shared between processes, so that the limits on wrong passwords count everywhere.
        "BACKEND": "config.cache.SharedCache",
        "LOCATION": "lineworthy_cache",
        # Beyond this number entries go by the alphabet, not by age: the default of 300 would drop kept forms.
        "OPTIONS": {"MAX_ENTRIES": 100_000},
    }
}
FILE_UPLOAD_MAX_MEMORY_SIZE = 5 * 2**20
DATA_UPLOAD_MAX_MEMORY_SIZE = 10 * 2**20
DATA_UPLOAD_MAX_NUMBER_FIELDS = 5000

# Signs the states of the histories; made by ``manage.py log_key make``. Never kept in the database or with its backups.
LOG_KEY = env.secret("LOG_KEY", "")
# What is signed is worth as much as the copies of it elsewhere: manage.py witness_states and mail_states.
WITNESSES = states.witnesses(env.listing("WITNESSES"))
STATES_TO = states.addresses(env.listing("STATES_TO"))
# The certificate (PKCS#12) that signs day sheets as files; ``manage.py pdf_key make`` makes one. On disk alone, too.
PDF_KEY_FILE = env.text("PDF_KEY_FILE", "")
PDF_KEY_PASSWORD = env.secret("PDF_KEY_PASSWORD", "")

# --- people
AUTH_USER_MODEL = "accounts.User"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
ACCOUNT_ADAPTER = "accounts.adapter.ClosedAdapter"
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*", "password2*"]
ACCOUNT_EMAIL_VERIFICATION = "none"
ACCOUNT_PREVENT_ENUMERATION = True
ACCOUNT_LOGOUT_REDIRECT_URL = "/"
ACCOUNT_SESSION_REMEMBER = True
LOGIN_REDIRECT_URL = "/"
LOGIN_URL = "account_login"
# Per account and address together, and per address alone more generously: one wrong phone must not lock out a course.
ACCOUNT_RATE_LIMITS = {
    "login_failed": "10/5m/ip,5/5m/key",
    "reauthenticate": "10/5m/user",
    "reset_password": "20/5m/ip,5/5m/key",
}
ALLAUTH_TRUSTED_PROXY_COUNT = env.integer("PROXIES", 0)

# --- security
HTTPS = env.flag("HTTPS", default=not (DEBUG or DEMO))
SECURE_SSL_REDIRECT = HTTPS
SECURE_HSTS_SECONDS = 31_536_000 if HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = HTTPS
SECURE_HSTS_PRELOAD = HTTPS
SECURE_REFERRER_POLICY = "same-origin"
if ALLAUTH_TRUSTED_PROXY_COUNT:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
SESSION_COOKIE_SECURE = HTTPS
SESSION_COOKIE_AGE = 14 * 3600  # a long working day; signing asks for the password again anyway
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SECURE = HTTPS
CSRF_FAILURE_VIEW = "accounts.keep.csrf_failure"
X_FRAME_OPTIONS = "DENY"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "blob:", "data:"],
        "font-src": [SELF],
        "connect-src": [SELF],
        "manifest-src": [SELF],
        "worker-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
    }
}
PERMISSIONS_POLICY = {"camera": "self", "geolocation": [], "microphone": [], "payment": [], "usb": []}

# --- time, language, static files
USE_TZ = True
TIME_ZONE = "UTC"
LANGUAGE_CODE = "en"
LANGUAGES = [("en", "English")]
USE_I18N = True
STATIC_URL = "/static/"
# Nothing of it is wanted on another origin, and a header less is less to load.
WHITENOISE_ALLOW_ALL_ORIGINS = False
STATIC_ROOT = DATA_DIR / "static"
STATICFILES_DIRS = [BASE_DIR / "static"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage" if DEBUG else "config.static.StaticFiles"
    },
}

# --- mail and logging
globals().update(mail.settings_of(env.secret("MAIL_URL")))
DEFAULT_FROM_EMAIL = env.text("MAIL_FROM", "lineworthy@localhost")
TROUBLE_TO = env.listing("TROUBLE_TO")  # who gets a mail when the nightly check finds something
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
}

env.refuse_unknown()
