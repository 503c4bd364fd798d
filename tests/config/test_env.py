"""The environment is read strictly.

The reading of flags and of secrets in files follows common practice for services set up by environment variables; there
is no standard for it. The forms of PostgreSQL addresses are those of its manual, "Connection URIs" (from memory).
"""

from pathlib import Path

import pytest
from django.core.exceptions import ImproperlyConfigured

from config import env

BASE = Path("/srv/lineworthy")


@pytest.fixture(autouse=True)
def nothing_set(monkeypatch):
    monkeypatch.setattr(env, "_asked", set())
    monkeypatch.setattr(env.os, "environ", {})


@pytest.fixture
def put(monkeypatch):
    return lambda name, value: env.os.environ.__setitem__(name, value)


def test_required_value_is_returned_without_blanks(put):
    put("LINEWORTHY_NAME", " north \n")

    assert env.required("NAME") == "north"


@pytest.mark.parametrize("value", [None, "", "  "])
def test_required_value_that_is_missing_or_empty_stops_the_start(put, value):
    if value is not None:
        put("LINEWORTHY_NAME", value)

    with pytest.raises(ImproperlyConfigured, match="LINEWORTHY_NAME must be set"):
        env.required("NAME")


def test_name_without_the_prefix_is_not_read(put):
    put("NAME", "north")

    assert env.text("NAME", None) is None


def test_empty_text_is_the_default(put):
    put("LINEWORTHY_NAME", "")

    assert env.text("NAME", "south") == "south"


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        ("true", True),
        ("True", True),
        ("1", True),
        ("yes", True),
        ("false", False),
        ("FALSE", False),
        ("0", False),
        ("no", False),
    ],
)
def test_flag_is_read_against_its_default(put, value, expected):
    put("LINEWORTHY_DEBUG", value)

    assert env.flag("DEBUG", default=not expected) is expected


@pytest.mark.parametrize("default", [True, False])
def test_flag_not_set_or_empty_is_its_default(put, default):
    assert env.flag("DEBUG", default=default) is default

    put("LINEWORTHY_DEBUG", "")

    assert env.flag("DEBUG", default=default) is default


@pytest.mark.parametrize("value", ["flase", "on", "off", "2", "-1", "none", "t", "y"])
def test_flag_that_is_neither_yes_nor_no_stops_the_start(put, value):
    put("LINEWORTHY_DEBUG", value)

    with pytest.raises(ImproperlyConfigured, match="LINEWORTHY_DEBUG must be true or false"):
        env.flag("DEBUG")


def test_integer_is_read(put):
    put("LINEWORTHY_PROXIES", "02")

    assert env.integer("PROXIES", 0) == 2
    assert env.integer("OTHER", 7) == 7


@pytest.mark.parametrize("value", ["1.0", "-1", "+1", "1_000", "one", "²", "٣"])
def test_integer_that_is_no_plain_whole_number_stops_the_start(put, value):
    put("LINEWORTHY_PROXIES", value)

    with pytest.raises(ImproperlyConfigured, match="LINEWORTHY_PROXIES must be a whole number"):
        env.integer("PROXIES", 0)


def test_secret_comes_from_the_variable(put):
    put("LINEWORTHY_KEY", "open sesame")

    assert env.secret("KEY") == "open sesame"


def test_secret_comes_from_the_file_without_its_line_end(put, tmp_path):
    (tmp_path / "key").write_text("open sesame\n")
    put("LINEWORTHY_KEY_FILE", str(tmp_path / "key"))

    assert env.secret("KEY", "default") == "open sesame"


def test_secret_file_that_is_set_but_missing_stops_the_start(put, tmp_path):
    put("LINEWORTHY_KEY_FILE", str(tmp_path / "key"))

    with pytest.raises(ImproperlyConfigured, match=r"LINEWORTHY_KEY_FILE names .* cannot be read"):
        env.secret("KEY", "default")


def test_secret_file_that_is_empty_stops_the_start(put, tmp_path):
    (tmp_path / "key").write_text("\n")
    put("LINEWORTHY_KEY_FILE", str(tmp_path / "key"))

    with pytest.raises(ImproperlyConfigured, match="which is empty"):
        env.secret("KEY", "default")


def test_secret_set_twice_stops_the_start(put, tmp_path):
    (tmp_path / "key").write_text("one")
    put("LINEWORTHY_KEY_FILE", str(tmp_path / "key"))
    put("LINEWORTHY_KEY", "two")

    with pytest.raises(ImproperlyConfigured, match="not both"):
        env.secret("KEY")


def test_secret_that_is_not_set_is_the_default():
    assert env.secret("KEY") is None
    assert env.secret("KEY", "default") == "default"


def test_listing_leaves_out_empty_parts(put):
    put("LINEWORTHY_HOSTS", " a.example.org, ,b.example.org,")

    assert env.listing("HOSTS") == ["a.example.org", "b.example.org"]
    assert env.listing("OTHER") == []
    assert env.listing("OTHER", ["x"]) == ["x"]


def test_database_is_sqlite_in_the_data_folder_by_default():
    assert env.database(BASE)["NAME"] == BASE / "var" / "lineworthy.sqlite3"
    assert env.database(BASE, Path("/data"))["NAME"] == Path("/data/lineworthy.sqlite3")


@pytest.mark.parametrize(
    ("url", "path"),
    [
        ("sqlite:///var/demo/x.sqlite3", BASE / "var/demo/x.sqlite3"),
        ("sqlite:////data/x%20y.sqlite3", Path("/data/x y.sqlite3")),
    ],
)
def test_sqlite_path_with_three_slashes_is_relative_with_four_absolute(put, url, path):
    put("DATABASE_URL", url)

    assert env.database(BASE)["NAME"] == path


def test_sqlite_takes_the_write_lock_first_and_survives_a_power_cut():
    options = env.database(BASE)["OPTIONS"]

    assert options["transaction_mode"] == "IMMEDIATE"
    assert options["timeout"] == 30
    assert options["init_command"].split("; ") == [
        "PRAGMA journal_mode=WAL",
        "PRAGMA synchronous=FULL",
        "PRAGMA recursive_triggers=ON",
        "PRAGMA foreign_keys=ON;",
    ]


@pytest.mark.parametrize("scheme", ["postgres", "postgresql"])
def test_postgresql_address_is_taken_apart_and_decoded(put, scheme):
    put("DATABASE_URL", f"{scheme}://fo%40o:p%2Fw%3A@db.example.org:5433/lines?sslmode=verify-full&connect_timeout=5")

    found = env.database(BASE)

    assert found["ENGINE"] == "django.db.backends.postgresql"
    assert (found["USER"], found["PASSWORD"]) == ("fo@o", "p/w:")
    assert (found["HOST"], found["PORT"], found["NAME"]) == ("db.example.org", "5433", "lines")
    assert found["OPTIONS"] == {"sslmode": "verify-full", "connect_timeout": "5"}


def test_postgresql_socket_folder_comes_after_the_question_mark(put):
    put("DATABASE_URL", "postgres:///lines?host=/run/postgresql&user=me")

    found = env.database(BASE)

    assert (found["HOST"], found["PORT"], found["USER"], found["PASSWORD"]) == ("/run/postgresql", "", "me", "")
    assert found["OPTIONS"] == {}


@pytest.mark.parametrize(
    "url",
    [
        "mysql://u:secret@h/db",
        "lines.sqlite3",
        "sqlite://lines.sqlite3",
        "sqlite:///",
        "postgres://u:secret@h",
        "postgres://u:secret@h:port/db",
        "postgres://u:secret@[h/db",
    ],
)
def test_database_address_that_makes_no_sense_stops_the_start_without_telling_the_password(put, url):
    put("DATABASE_URL", url)

    with pytest.raises(ImproperlyConfigured) as refusal:
        env.database(BASE)
    assert "secret" not in str(refusal.value)


def test_misspelt_variable_stops_the_start_and_the_nearest_name_is_suggested(put):
    put("LINEWORTHY_DEBGU", "true")
    env.flag("DEBUG")
    env.listing("HOSTS")

    with pytest.raises(ImproperlyConfigured, match=r"LINEWORTHY_DEBGU is not a setting.*Is LINEWORTHY_DEBUG meant\?"):
        env.refuse_unknown()


def test_variables_that_were_asked_for_or_are_not_ours_are_accepted(put):
    put("LINEWORTHY_DEBUG", "true")
    put("LINEWORTHY_KEY_FILE", "")
    put("PATH", "/bin")
    env.flag("DEBUG")
    env.secret("KEY")

    env.refuse_unknown()

    put("LINEWORTHY_OTHER", "")
    with pytest.raises(ImproperlyConfigured, match="LINEWORTHY_OTHER is not a setting"):
        env.refuse_unknown()
