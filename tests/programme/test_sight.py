"""Who may see which row."""

import pytest
from django.apps import apps
from django.contrib.auth.models import AnonymousUser

from standlight.programme.models import Ensemble, Musician, SeenModel, Take, TakePiece

pytestmark = pytest.mark.django_db


def test_the_lead_sees_every_ensemble_of_the_school_and_no_other(cast):
    assert set(Ensemble.objects.visible_to(cast.director)) == {cast.band, cast.choir}


def test_a_second_director_sees_only_the_ensembles_they_direct(cast):
    assert set(Ensemble.objects.visible_to(cast.second_director)) == {cast.band}
    assert set(Musician.objects.visible_to(cast.second_director)) == {
        cast.musician,
        cast.second_musician,
    }


def test_a_musician_sees_only_themselves(cast):
    assert list(Musician.objects.visible_to(cast.musician.account)) == [cast.musician]


def test_an_outsider_and_someone_signed_out_see_nothing_here(cast):
    assert cast.band not in Ensemble.objects.visible_to(cast.outsider_director)
    assert not Musician.objects.visible_to(AnonymousUser()).exists()


def test_every_row_a_page_reaches_has_a_sight_rule_that_runs_for_the_whole_cast(cast):
    apart = {"Account", "Programme", "SchoolYear", TakePiece.__name__}
    for model in apps.get_app_config("programme").get_models():
        if model.__name__ in apart or model._meta.auto_created:
            continue
        assert issubclass(model, SeenModel), f"{model.__name__} has no sight rule"
        for account in (cast.director, cast.second_director, cast.musician.account):
            assert model.objects.visible_to(account).count() >= 0
    assert Take.objects.visible_to(cast.outsider_director).count() == 0
