"""Set before Django reads its settings: a fresh folder, a file database so that
write-ahead logging is really used, plain static files. Loaded by ``-p``."""

import atexit
import os
import shutil
import tempfile

folder = tempfile.mkdtemp(prefix="workshop-tests-")
atexit.register(shutil.rmtree, folder, ignore_errors=True)
for name in [n for n in os.environ if n.startswith("WORKSHOP_")]:
    del os.environ[name]  # a developer's own settings decide no test
os.environ.update(
    DJANGO_SETTINGS_MODULE="workshop.settings",
    WORKSHOP_DATA_DIR=folder,
    WORKSHOP_TEST_DB=f"{folder}/test.sqlite3",
    WORKSHOP_PLAIN_STATIC="True",
    WORKSHOP_SECRET_KEY="only for tests",
    # The browser's driver runs an event loop in the thread that uses the database.
    DJANGO_ALLOW_ASYNC_UNSAFE="true",
)
