"""Addresses, gathered from one module a place."""

from django.urls import include, path

from standlight.web import sign_in
from standlight.web.musician import my_part

urlpatterns = [
    path("", sign_in.home, name="home"),
    path("sign-in/", sign_in.sign_in, name="sign-in"),
    path("card/<str:code>/", sign_in.sign_in, name="card"),
    path("sign-out/", sign_in.sign_out, name="sign-out"),
    path("today/", include("standlight.web.director.today")),
    path("musicians/", include("standlight.web.director.musicians")),
    path("musicians/", include("standlight.web.director.school")),
    path("folder/", include("standlight.web.director.folder")),
    path("folder/tables/", include("standlight.web.director.tables")),
    path("checks/", include("standlight.web.director.checks")),
    path("checks/", include("standlight.web.director.shifting")),
    path("checks/", include("standlight.web.director.checks_tries")),
    path("checks/", include("standlight.web.director.bringing")),
    path("work/kinds/", include("standlight.web.director.kinds")),
    path("work/", include("standlight.web.director.work")),
    path("work/", include("standlight.web.director.class_screen")),
    path("live/", include("standlight.web.director.live")),
    path("desk/", include("standlight.web.director.desk")),
    path("desk/", include("standlight.web.director.answers")),
    path("desk/", include("standlight.web.director.bank")),
    path("desk/", include("standlight.web.director.group")),
    path("desk/", include("standlight.web.director.desk_sitting")),
    path("desk/reading/", include("standlight.web.director.reading")),
    path("desk/reading/", include("standlight.web.director.reading_bulk")),
    path("desk/reading/", include("standlight.web.director.reading_own")),
    path("marks/", include("standlight.web.director.marks")),
    path("raters/", include("standlight.web.director.raters")),
    path("figures/", include("standlight.web.figures")),
    path("my/work/", include("standlight.web.musician.work")),
    path("my/wall/", include("standlight.web.musician.wall")),
    path("my/growth/", include("standlight.web.musician.growth")),
    path("my/", include("standlight.web.musician.my_part")),
    path("station/", include("standlight.web.musician.station")),
    path("upload/", include("standlight.web.musician.upload")),
    path("sounds/", include("standlight.web.sheet_sounds")),
    path("my/", include("standlight.web.musician.plan")),
    path("takes/", include("standlight.web.takes")),
    path("recording-worker.js", my_part.recording_worker, name="recording-worker"),
]
