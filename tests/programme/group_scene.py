"""The cast's band with twelve more musicians, for the tests of groups and talks."""

from standlight.programme.actions import groups as acts
from standlight.programme.models import Grouping
from tests.cast import add_musician

GIVEN = ("Abel", "Bibi", "Cleo", "Duri", "Esme", "Finn", "Gwen", "Hugo", "Inga", "Jiro", "Kaya",
         "Leif")  # fmt: skip


def twelve(cast):
    """Twelve more musicians of the band by given name, by turns clarinet and percussion."""
    return {
        name: add_musician(
            cast.programme, (cast.clarinets, cast.snares)[n % 2], str(2001 + n), name, "Quist"
        )
        for n, name in enumerate(GIVEN)
    }


def making(cast, **more):
    """A grouping of the band that is not saved yet."""
    return Grouping(ensemble=cast.band, **{"size": 4, "parts": "mixed", **more})


def made(cast, people, **more):
    """A draft of these musicians."""
    return acts.make(cast.director, making(cast, **more), [one.pk for one in people])


def numbers(grouping):
    """Given name to the number of the group."""
    seats = grouping.seats.select_related("musician")
    return {seat.musician.given_name: seat.number for seat in seats}
