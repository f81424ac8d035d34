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
        "The slope of a straight line through the places of a musician's takes, in rating points a"
        " year (365 days), with the interval that holds the truth 95 times of 100. Each sitting (a"
        " task asked of an ensemble at one time) has a place of its own, so without a passage asked"
        " again the line is beside the group's, held flat, and only more or less than the group is"
        " said. The state follows the line of own takes only. A change of instrument ends a line.",
        "Laird & Ware 1982, Biometrics 38:963; Breslow & Clayton 1993, J. Am. Stat. Assoc. 88:9"
        " (places and lines fitted round and round).",
        "There are fewer than 4 sittings, or nobody to be beside and no passage asked again.",
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
        " musicians, with variances found by restricted maximum likelihood and averaged over what"
        " the spread of slopes may be. A line with few or noisy takes leans on the others: closer"
        " on average, but it can tell growth where one musician had none.",
        "Patterson & Thompson 1971, Biometrika 58:545; Laird & Ware 1982, Biometrics 38:963.",
        "There are fewer than 4 sittings, or nobody to be beside and no passage asked again.",
    ),
    (
        "growth_unpooled",
        "Own takes only",
        "This musician's growth from this musician's takes and nobody else's line.",
        "The line by weighted least squares through one musician's takes, each with its own error"
        " and the noise from day to day. Wider than the line that leans on the group, and fairer"
        " to somebody unlike the others.",
        "Weighted least squares.",
        "There are fewer than 4 sittings, or all of them are at one time.",
    ),
    (
        "reliable_change",
        "More than the takes' own error",
        "Whether the last take is further from the first than two takes differ by themselves.",
        "The last sitting's fair place minus the first's, over the root of the sum of their squared"
        " errors, the noise from day to day among them. A change counts beyond 1.96, which nothing"
        " but chance passes 5 times of 100.",
        "Jacobson & Truax 1991, J. Consult. Clin. Psychol. 59:12.",
        "There are too few sittings for a line.",
    ),
    (
        "anchors",
        "The same passage again",
        "A passage asked early and asked again later: only it tells whether a whole group grew.",
        "A task with two sittings of one ensemble at least 60 days apart, both played by at least a"
        " third of the group and five musicians (all of a smaller group). Without one, harder tasks"
        " and growth cannot be told apart, and no growth of a group is said.",
        "Our choice of 60 days, a third and five. Simulated without a repeated passage: -0.13 came"
        " out for a true 0.80.",
        "No passage was asked again.",
    ),
    (
        "group_growth",
        "Growth of the group",
        "How much a group grew in a year, seen on the passages it played again.",
        "The slope of the group's places over the sittings of passages asked again, in rating"
        " points a year with its 95 percent interval; a passage is as hard the second time as the"
        " first. That it was practised in between, or that the rater's standard moved, is in it.",
        "Weighted least squares on the sittings' places.",
        "No passage was asked again far enough apart by enough of the group.",
    ),
    (
        "section_growth",
        "Growth of a section",
        "How much more or less a section grew than the rest of its ensemble, on the same tasks.",
        "Mean of the own slopes of the section's musicians minus that of the rest, in rating points"
        " a year, with Student's t. Sure by a one-sided test, corrected by Holm over all sections"
        " of the table, so that chance claims anything in one table of 20; a criterion is sure only"
        " where all criteria together are. Stopped: sure, and its own growth, known by a passage"
        " asked again, could be next to nothing, over the year or in the later half of its group's"
        " takes; there it must also be less than a third of the rest's. Of late: each musician's"
        " takes against each other, by weighted least squares, plus the group's growth, taken to be"
        " even.",
        "Holm 1979, Scand. J. Statist. 6:65; errors robust to what a musician's takes share: Liang"
        " and Zeger 1986, Biometrika 73:13.",
        "The section or the rest has fewer than 5 musicians with a line of their own.",
    ),
    (
        "self_view",
        "How musicians see themselves",
        "How far a musician's own level is from the director's on the same takes.",
        "Mean of own level minus the director's (the mean of several), over takes that both rated;"
        " a take counts once. The 95 percent interval is Student's t with a spread that leans on"
        " all musicians' (4 takes' worth). Alike: the interval lies within half a level. The trend"
        " is of the distance, from 6 takes up. It never enters a mark.",
        "Smyth 2004, Stat. Appl. Genet. Mol. Biol. 3:3 (a spread that leans on the others').",
        "Fewer than 4 takes were rated by both.",
    ),
)
"""In the order in which a page explains them."""
