"""The rows of the figures' table about musicians: fair level, growth, self-view. Pure.

Key, name, sentence, exact definition, source, when it says nothing.
"""

GROWTH_ROWS = (
    (
        "fair_level",
        "Fair level",
        "The level this take would have had with a task and a rater from the middle.",
        "The expected level, over the criteria, at the musician's place in the many-facet model,"
        " with the task and the rater at the middle of their facet. In rating points, 1 to 4.",
        "Linacre 1989, Many-Facet Rasch Measurement (fair average); from memory.",
        "Only one level was ever given, or a take has no level.",
    ),
    (
        "growth",
        "Growth",
        "How much the fair level moved from the first take to the last, and in a year.",
        "The slope of a straight line through the fair places of a musician's takes, times a year,"
        " turned into rating points; the interval holds the truth 95 times of 100. Each sitting"
        " (a task asked of an ensemble at one time) has a place of its own, so the line is set"
        " beside the rest of the ensemble unless a passage was asked again. A line ends where the"
        " musician changed the instrument.",
        "Laird & Ware 1982, Biometrics 38:963 (lines of many persons at once).",
        "A line has too few takes, or all of them are from one time.",
    ),
    (
        "could_be_chance",
        "Could be chance",
        "The interval holds zero: the same could come out with nothing behind it.",
        "The 95 percent interval of the amount holds zero. It does not say that nothing is there:"
        " more takes make the interval narrower.",
        "Common practice.",
        "There is no interval.",
    ),
    (
        "growth_pooled",
        "Leaning on the group",
        "This musician's growth, drawn a little towards how the others grow.",
        "The line of one musician from a model of all lines: level and slope are normal over the"
        " musicians, so a line with few or noisy takes leans on the others. Closer on average, but"
        " it can tell growth where one musician had none.",
        "Laird & Ware 1982, Biometrics 38:963; Patterson & Thompson 1971, Biometrika 58:545"
        " (restricted maximum likelihood).",
        "There are too few musicians with a line to know how lines differ.",
    ),
    (
        "growth_unpooled",
        "Own takes only",
        "This musician's growth from this musician's takes and nobody else's line.",
        "The line by least squares through one musician's takes, each weighed by its own error and"
        " the noise from day to day. Wider than the line that leans on the group, and fairer to"
        " somebody unlike the others.",
        "Weighted least squares.",
        "The musician has no two takes at different times.",
    ),
    (
        "reliable_change",
        "More than the takes' own error",
        "Whether the last take is further from the first than two takes differ by themselves.",
        "The difference of two fair places over the root of the sum of their squared errors; a"
        " change counts beyond 1.96, which the same ability passes 5 times of 100.",
        "Jacobson & Truax 1991, J. Consult. Clin. Psychol. 59:12.",
        "There is only one take, or the takes are on different instruments.",
    ),
    (
        "anchors",
        "The same passage again",
        "A passage asked early and asked again later: only it tells whether a whole group grew.",
        "A task whose key stands at two times of one group, far enough apart. Without one, harder"
        " tasks and growth cannot be told apart, and no growth of a group is said.",
        "Our own simulation: without a repeated passage -0.13 came out for a true 0.80.",
        "No passage was asked again.",
    ),
    (
        "group_growth",
        "Growth of the group",
        "How much a group grew in a year, seen on the passages it played again.",
        "The mean growth of a group's musicians in rating points a year, with its 95 percent"
        " interval, with every passage as hard the second time as the first.",
        "Laird & Ware 1982, Biometrics 38:963.",
        "No passage was asked again far enough apart.",
    ),
    (
        "section_growth",
        "Growth of a section",
        "How much more or less a section grew than the rest of its ensemble, on the same tasks.",
        "The mean slope of the section's musicians minus that of the rest, in rating points a year."
        " As all played the same tasks, their hardness falls out. With several sections the"
        " surest is judged strictest, so that chance claims one in 20 ensembles at most.",
        "Holm 1979, Scand. J. Statist. 6:65.",
        "A section or the rest has too few musicians with a line.",
    ),
    (
        "self_view",
        "How musicians see themselves",
        "How far a musician's own level is from the director's on the same takes.",
        "Mean of own level minus the director's, over takes and criteria that both rated, with its"
        " 95 percent interval by takes; the share of equal levels; and whether the difference"
        " shrank over time. It never enters a mark.",
        "Common practice; the interval is Student's t.",
        "Too few takes were rated by both.",
    ),
)
"""In the order in which a page explains them."""
