"""The production settings under test conditions: as few differences as possible, each with its reason."""

import os
import tempfile

# Playwright's synchronous interface runs an event loop in the test's thread; Django would refuse queries there.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

# What the developer's own shell says about the application must not change what the tests see.
for _name in [name for name in os.environ if name.startswith("LINEWORTHY_")]:
    del os.environ[_name]

# One folder for each process of a run, gone when the process ends.
_data = tempfile.TemporaryDirectory(prefix="lineworthy-test-")
os.environ["LINEWORTHY_SECRET_KEY"] = "a key for tests only, as long as a real one has to be"
os.environ["LINEWORTHY_DATA_DIR"] = _data.name
os.environ["LINEWORTHY_HOSTS"] = "testserver,127.0.0.1,localhost"
os.environ["LINEWORTHY_HTTPS"] = "false"

from config.settings import *  # noqa: E402, F403

# The slow hash is for attackers; tests log in hundreds of times.
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
