"""Each mistake of an installation is found by the id that the hint and the operator's notes go by."""

import pytest
from django.core.checks import run_checks
from django.core.management import call_command
from django.core.management.base import SystemCheckError
from django.db import connection

LONG_KEY = "k4Jd8-this-one-is-long-enough-and-has-many-signs-0123456789"
LOCAL = "django.core.cache.backends.locmem.LocMemCache"
DUMMY = "django.core.cache.backends.dummy.DummyCache"
SHARED = "config.cache.SharedCache"
# On PostgreSQL the tests run as the owner of the tables, and that is told.
OWNER = ["config.W004"] if connection.vendor == "postgresql" else []


@pytest.fixture
def installation(settings, monkeypatch, tmp_path):
    """Settings without a fault, for each test to spoil in one place."""
    settings.DEBUG = False
    settings.DEMO = False
    settings.SECRET_KEY = LONG_KEY
    settings.ALLOWED_HOSTS = ["lines.example.org"]
    settings.DATA_DIR = tmp_path
    settings.CACHES = {"default": {"BACKEND": SHARED, "LOCATION": "lineworthy_cache"}}
    settings.SESSION_COOKIE_SECURE = True
    settings.CSRF_COOKIE_SECURE = True
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    monkeypatch.setenv("LINEWORTHY_PROXIES", "1")
    return settings


def found(**keywords):
    # Checks are asked in no particular order.
    return sorted(message.id for message in run_checks(**keywords) if message.id.startswith("config."))


def test_installation_without_a_fault_passes(installation):
    assert found(include_deployment_checks=True) == []


@pytest.mark.parametrize(
    "key",
    [
        LONG_KEY[:49],
        "ab" * 40,
        "only-for-debugging-" + LONG_KEY,
        "django-insecure-" + LONG_KEY,
    ],
    ids=["short", "two signs", "our own default", "a generated project's default"],
)
def test_key_that_can_be_guessed_is_e001(installation, key):
    installation.SECRET_KEY = key

    assert found() == ["config.E001"]


def test_key_of_fifty_signs_is_enough(installation):
    installation.SECRET_KEY = LONG_KEY[:50]

    assert found() == []


def test_no_host_is_e002(installation):
    installation.ALLOWED_HOSTS = []

    assert found() == ["config.E002"]


def test_any_host_is_e003(installation):
    installation.ALLOWED_HOSTS = ["lines.example.org", "*"]

    assert found() == ["config.E003"]


def test_missing_data_folder_is_e004(installation, tmp_path):
    installation.DATA_DIR = tmp_path / "nowhere"

    assert found() == ["config.E004"]


def test_data_folder_that_is_a_file_is_e004(installation, tmp_path):
    (tmp_path / "file").touch()
    installation.DATA_DIR = tmp_path / "file"

    assert found() == ["config.E004"]


def test_trial_of_the_data_folder_leaves_nothing_behind(installation, tmp_path):
    assert found() == []
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("backend", [LOCAL, DUMMY])
def test_cache_of_one_process_is_e005(installation, backend):
    installation.CACHES = {"default": {"BACKEND": backend}}

    assert found() == ["config.E005"]


@pytest.mark.parametrize("name", ["SESSION_COOKIE_SECURE", "CSRF_COOKIE_SECURE"])
def test_cookie_in_the_clear_is_e006(installation, name):
    setattr(installation, name, False)

    assert found() == ["config.E006"]


def test_number_of_proxies_not_said_is_e007(installation, monkeypatch):
    monkeypatch.delenv("LINEWORTHY_PROXIES")

    assert found() == ["config.E007"]


def test_no_proxy_is_an_answer_too(installation, monkeypatch):
    monkeypatch.setenv("LINEWORTHY_PROXIES", "0")

    assert found() == []


@pytest.mark.parametrize(("years", "expected"), [(4, ["config.E010"]), (5, []), (30, [])])
def test_a_term_below_five_years_is_e010(installation, years, expected):
    installation.KEEP_YEARS = years

    assert found() == expected


def test_demo_may_do_without_https_and_proxies_but_not_without_a_key(installation, monkeypatch):
    installation.DEMO = True
    installation.SESSION_COOKIE_SECURE = False
    installation.SECRET_KEY = "short"
    monkeypatch.delenv("LINEWORTHY_PROXIES")

    assert found() == ["config.E001"]


def test_debugging_needs_a_data_folder_only(installation, monkeypatch, tmp_path):
    installation.DEBUG = True
    installation.SECRET_KEY = "short"
    installation.ALLOWED_HOSTS = []
    installation.CACHES = {"default": {"BACKEND": LOCAL}}
    installation.CSRF_COOKIE_SECURE = False
    installation.DATA_DIR = tmp_path / "nowhere"
    monkeypatch.delenv("LINEWORTHY_PROXIES")

    assert found() == ["config.E004"]


def test_mail_to_the_log_is_w001_when_deploying(installation):
    installation.EMAIL_BACKEND = "django.core.mail.backends.console.EmailBackend"

    assert found() == []
    assert found(include_deployment_checks=True) == ["config.W001"]


@pytest.mark.django_db
def test_database_up_to_date_passes(installation):
    assert found(include_deployment_checks=True, databases=["default"]) == OWNER


@pytest.mark.django_db
def test_migration_not_applied_is_e008_and_does_not_stop_migrate(installation):
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM django_migrations WHERE app = 'sessions'")

    assert found(include_deployment_checks=True, databases=["default"]) == ["config.E008", *OWNER]
    assert found(databases=["default"]) == []
    with pytest.raises(SystemCheckError, match=r"lacks 1 migrations, the first being sessions\.0001_initial"):
        call_command("check", deploy=True, databases=["default"])


@pytest.mark.django_db
def test_missing_cache_table_is_e009(installation):
    installation.CACHES = {"default": {"BACKEND": SHARED, "LOCATION": "never_made"}}

    assert found(include_deployment_checks=True, databases=["default"]) == ["config.E009", *OWNER]
