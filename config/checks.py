"""System checks: mistakes of an installation that would weaken it in silence, each with an id and what to do about it.

E001 to E007 and E010 are asked by every command, and so stop ``migrate`` or ``load_demo`` as well. E008 and E009 look
into the database and would stand in the way of the very ``migrate`` they ask for; they, W001, W004 and W005 belong to
``check --deploy --database default``, which ``make serve`` runs before it serves. W002 and W003 are asked by every
command and stop none.
"""

import tempfile
from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, Warning, register
from django.db import DatabaseError, connections
from django.db.migrations.executor import MigrationExecutor
from django.utils import timezone

from config import env
from ledger import roles
from reports import pdf_key

SHORTEST_KEY = 50  # characters; the length that Django's own check and key generator use
FEWEST_SIGNS = 5  # different characters in it, as in Django's own check
FEWEST_YEARS = 5  # that names, notes, photos and papers of the record are kept
SOON = timedelta(days=30)  # before a certificate ends: time to get another
MADE_UP_KEYS = ("only-for-debugging-", "django-insecure-")

PER_PROCESS_CACHES = ("locmem.LocMemCache", "dummy.DummyCache")


@register(Tags.security)
def secret_key(**kwargs: Any) -> list[CheckMessage]:
    """Refuse a key that can be guessed: whoever has it can forge a session."""
    key = settings.SECRET_KEY
    if settings.DEBUG or (
        len(key) >= SHORTEST_KEY and len(set(key)) >= FEWEST_SIGNS and not key.startswith(MADE_UP_KEYS)
    ):
        return []
    return [
        Error(
            "The secret key is too short or one that others know.",
            hint=f"Set LINEWORTHY_SECRET_KEY, or LINEWORTHY_SECRET_KEY_FILE, to {SHORTEST_KEY} random characters.",
            id="config.E001",
        )
    ]


@register(Tags.security)
def hosts(**kwargs: Any) -> list[CheckMessage]:
    """Ask for the names under which the site is reached, each by itself."""
    if settings.DEBUG:
        return []
    hint = "Set LINEWORTHY_HOSTS to the names under which the site is reached, with commas between them."
    if not settings.ALLOWED_HOSTS:
        return [Error("No host name is set, so every request would be refused.", hint=hint, id="config.E002")]
    if "*" in settings.ALLOWED_HOSTS:
        # The host goes into the links of mails: with any host allowed, a forged one sends a password reset elsewhere.
        return [Error("Any host name is accepted.", hint=hint, id="config.E003")]
    return []


@register(Tags.files)
def data_folder(**kwargs: Any) -> list[CheckMessage]:
    """Ask for a folder that can be written to before the first photo comes in."""
    folder = Path(settings.DATA_DIR)
    try:
        # Asking for the right to write is not enough: root always has it, and a full disk does not care.
        with tempfile.TemporaryFile(dir=folder) as trial:
            trial.write(b"a line of text, so that a full disk is noticed\n")
    except OSError as error:
        return [
            Error(
                f"The data folder {folder} cannot be written to: {error.strerror}.",
                hint="Make the folder and give it to the account that runs the server, or set LINEWORTHY_DATA_DIR.",
                id="config.E004",
            )
        ]
    return []


@register(Tags.caches)
def shared_cache(**kwargs: Any) -> list[CheckMessage]:
    """Refuse a cache of one process: limits on wrong passwords would count apart in every worker."""
    if settings.DEBUG:
        return []
    return [
        Error(
            f"The cache {alias!r} belongs to one process alone.",
            hint="Use a cache that all processes share, such as Django's database cache.",
            id="config.E005",
        )
        for alias, cache in settings.CACHES.items()
        if str(cache["BACKEND"]).endswith(PER_PROCESS_CACHES)
    ]


@register(Tags.security)
def cookies(**kwargs: Any) -> list[CheckMessage]:
    """Refuse to send log-ins in the clear, but for a demo on one's own machine and for debugging."""
    if settings.DEBUG or settings.DEMO or (settings.SESSION_COOKIE_SECURE and settings.CSRF_COOKIE_SECURE):
        return []
    return [
        Error(
            "Cookies may travel without encryption, so whoever listens can act as the person logged in.",
            hint="Serve over HTTPS and leave LINEWORTHY_HTTPS unset or true.",
            id="config.E006",
        )
    ]


@register(Tags.security)
def proxies(**kwargs: Any) -> list[CheckMessage]:
    """Ask how many proxies stand in front: a wrong number lets forged addresses dodge the limits, or locks all out."""
    if settings.DEBUG or settings.DEMO or env.text("PROXIES", None) is not None:
        return []
    return [
        Error(
            "It is not said how many proxies stand between the phones and this server.",
            hint="Set LINEWORTHY_PROXIES to their number; 0 if the application server itself answers HTTPS.",
            id="config.E007",
        )
    ]


@register(Tags.security)
def kept_long_enough(**kwargs: Any) -> list[CheckMessage]:
    """Refuse to keep names and photos for less than the shortest term: erased is erased."""
    if settings.KEEP_YEARS >= FEWEST_YEARS:
        return []
    return [
        Error(
            f"What belongs to the record would be kept for {settings.KEEP_YEARS} years alone.",
            hint=f"Set LINEWORTHY_KEEP_YEARS to {FEWEST_YEARS} or more, or leave it unset. Local law may ask for more.",
            id="config.E010",
        )
    ]


@register(Tags.database, deploy=True)
def migrations(databases: Sequence[str] | None = None, **kwargs: Any) -> list[CheckMessage]:
    """Refuse to serve a database of an older version."""
    found: list[CheckMessage] = []
    for alias in databases or ():
        try:
            executor = MigrationExecutor(connections[alias])
            plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
        except DatabaseError as error:
            message = f"The database {alias!r} cannot be read: {error}"
            found.append(Error(message, hint="Look at DATABASE_URL and at the database server.", id="config.E008"))
            continue
        if plan:
            first, _backwards = plan[0]
            message = f"The database {alias!r} lacks {len(plan)} migrations, the first being {first}."
            found.append(Error(message, hint="Run: make migrate", id="config.E008"))
    return found


@register(Tags.database, deploy=True)
def cache_table(databases: Sequence[str] | None = None, **kwargs: Any) -> list[CheckMessage]:
    """Ask for the table of a database cache, without which nobody can log in."""
    tables = [cache["LOCATION"] for cache in settings.CACHES.values() if cache["BACKEND"] == "config.cache.SharedCache"]
    found: list[CheckMessage] = []
    for alias in databases or ():
        try:
            present = connections[alias].introspection.table_names()
        except DatabaseError:
            continue  # E008 tells it
        found += [
            Error(f"The cache's table {table!r} is missing.", hint="Run: make migrate", id="config.E009")
            for table in tables
            if table not in present
        ]
    return found


@register(Tags.database, deploy=True)
def owner_of_the_history(databases: Sequence[str] | None = None, **kwargs: Any) -> list[CheckMessage]:
    """Tell when the application's account on PostgreSQL could switch off what keeps the history as it is."""
    found: list[CheckMessage] = []
    for alias in databases or ():
        try:
            if settings.DEMO or connections[alias].vendor != "postgresql":
                continue
            if not roles.may_change(connections[alias]):
                found += _hidden_history(connections[alias])
                continue
        except DatabaseError:
            continue  # E008 tells it
        found.append(
            Warning(
                "The application's database account owns the history's tables: its triggers could be switched off.",
                hint="Let migrate run under one account and the application under another: manage.py database_role",
                id="config.W004",
            )
        )
    return found


def _hidden_history(connection: Any) -> list[CheckMessage]:
    if not roles.may_stand_before(connection):
        return []
    said = "The application's database account can make tables: one could stand before the history's and be read."
    hint = "As the owner of the database, run manage.py database_role with the name of that account."
    return [Warning(said, hint=hint, id="config.W005")]


@register(Tags.security, deploy=True)
def mail(**kwargs: Any) -> list[CheckMessage]:
    """Tell when nobody will get the mail for a forgotten password."""
    if settings.DEBUG or settings.DEMO or not settings.EMAIL_BACKEND.endswith("console.EmailBackend"):
        return []
    return [
        Warning(
            "Mail is written to the log and reaches nobody, not even somebody who forgot a password.",
            hint="Set LINEWORTHY_MAIL_URL and LINEWORTHY_MAIL_FROM.",
            id="config.W001",
        )
    ]


@register(Tags.security)
def pdf_certificate(**kwargs: Any) -> list[CheckMessage]:
    """Tell when day sheets cannot be signed as files, or soon not any more. It stops nothing: mornings go on."""
    at = timezone.now()  # noqa: TID251 - a check is asked by a command, which has no other way to hand in the time
    try:
        key = pdf_key.configured()
        if key is None:
            return []
        key.check(at)
    except pdf_key.PdfKeyError as error:
        said, hint = f"Day sheets are not signed as files. {error}", "Look at LINEWORTHY_PDF_KEY_FILE and its password."
        return [Warning(said, hint=hint, id="config.W002")]
    if key.until - at > SOON:
        return []
    said = f"The certificate that signs day sheets as files ends on {key.until.date()}."
    return [Warning(said, hint="Get another one, or make one: manage.py pdf_key make", id="config.W003")]
