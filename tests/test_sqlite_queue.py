"""The queue of writers on SQLite, seen from outside: threads of one process and another process."""

import os
import sqlite3
import subprocess
import sys
import textwrap
from pathlib import Path

PROGRAM = textwrap.dedent(
    """
    import sys, threading, time
    from django.conf import settings
    path, counts = sys.argv[1], int(sys.argv[2])
    options = {"transaction_mode": "IMMEDIATE", "timeout": 30}
    settings.configure(DATABASES={"default": {"ENGINE": "config.sqlite", "NAME": path, "OPTIONS": options}})
    from django.db import connection, transaction

    def count():
        for _ in range(counts):
            with transaction.atomic(), connection.cursor() as cursor:
                cursor.execute("SELECT n FROM counter")
                [before] = cursor.fetchone()
                time.sleep(0.001)
                cursor.execute("UPDATE counter SET n = %s", [before + 1])
        try:
            with transaction.atomic():
                raise KeyError
        except KeyError:
            pass
        connection.close()

    threads = [threading.Thread(target=count) for _ in range(4)]
    for thread in threads: thread.start()
    for thread in threads: thread.join()
    """
)


def test_no_count_is_lost_between_threads_and_processes(tmp_path: Path) -> None:
    path = tmp_path / "counter.sqlite3"
    with sqlite3.connect(path) as made:
        made.execute("CREATE TABLE counter (n INTEGER)")
        made.execute("INSERT INTO counter VALUES (0)")
    root = Path(__file__).parent.parent
    command = [sys.executable, "-c", PROGRAM, str(path), "20"]
    environment = {**os.environ, "PYTHONPATH": str(root)}

    running = [subprocess.Popen(command, cwd=root, env=environment) for _ in range(2)]

    assert [one.wait(timeout=60) for one in running] == [0, 0]
    with sqlite3.connect(path) as read:
        assert read.execute("SELECT n FROM counter").fetchone() == (160,)


def test_a_transaction_that_cannot_begin_gives_its_turn_on(tmp_path: Path) -> None:
    """Somebody else holds the file itself; the next writer of this process must still get its turn afterwards."""
    path = tmp_path / "held.sqlite3"
    holder = sqlite3.connect(path, isolation_level=None)
    holder.execute("CREATE TABLE counter (n INTEGER)")
    holder.execute("BEGIN IMMEDIATE")
    program = textwrap.dedent(
        """
        import sys
        from django.conf import settings
        options = {"transaction_mode": "IMMEDIATE", "timeout": 0.1}
        settings.configure(DATABASES={"default": {"ENGINE": "config.sqlite", "NAME": sys.argv[1], "OPTIONS": options}})
        from django.db import OperationalError, connection, transaction
        try:
            with transaction.atomic():
                sys.exit("began although the file was held")
        except OperationalError:
            pass
        print("refused", flush=True)
        sys.stdin.readline()
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("INSERT INTO counter VALUES (1)")
        """
    )
    root = Path(__file__).parent.parent
    waiting = subprocess.Popen(
        [sys.executable, "-c", program, str(path)], cwd=root, env={**os.environ, "PYTHONPATH": str(root)},
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert waiting.stdout is not None
    assert waiting.stdout.readline() == "refused\n"
    holder.execute("ROLLBACK")

    waiting.communicate("go on\n", timeout=30)

    assert waiting.returncode == 0
    assert holder.execute("SELECT count(*) FROM counter").fetchone() == (1,)
