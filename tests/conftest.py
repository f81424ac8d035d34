"""What every test may ask for: a data folder of its own, and the cast."""

import datetime

import hypothesis
import pytest

# A test never fails for its time: on a busy machine any property may be slow once.
hypothesis.settings.register_profile("untimed", deadline=None)
hypothesis.settings.load_profile("untimed")


@pytest.fixture(scope="session")
def django_db_modify_db_settings(tmp_path_factory):
    """A database in a file of its own: the browser tests' server answers in several threads,
    which cannot share one connection to a database in memory."""
    from django.db import connections

    place = tmp_path_factory.mktemp("database") / "test.sqlite3"
    connections["default"].settings_dict["TEST"]["NAME"] = str(place)


@pytest.fixture(autouse=True)
def kept_files_apart(settings, tmp_path):
    """Each test keeps its files in a folder of its own, and errands wait in the queue."""
    settings.STANDLIGHT_FILES = tmp_path / "files"
    # The cheapest hasher: signing in is tested once with the real one.
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.STORAGES = {
        "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
        "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
    }


@pytest.fixture
def cast(db):
    """The people every page is tried with; two programmes, so that an outsider exists."""
    from tests.cast import make_cast

    return make_cast(datetime.date(2026, 11, 2))


@pytest.fixture
def scene(cast):
    """The band's published check on four measures; a file that needs another makes its own."""
    from tests.programme.desk_scene import make_scene

    return make_scene(cast)


@pytest.fixture
def turn(scene):
    """A take of that check, sent and heard, that waits at the Desk."""
    from tests.programme.desk_scene import send

    return send(scene, scene.cast.musician)
