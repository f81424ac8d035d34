"""The rows of the figures' table about raters: agreement, severity, steadiness, halo. Pure.

Key, name, sentence, exact definition, source, when it says nothing.
"""

_SHROUT_FLEISS = "Shrout & Fleiss 1979, Psychol. Bull. 86:420."
_NO_PAIRS = "There is one rater, or no take was rated by two."

RATER_ROWS = (
    (
        "agreement_exact",
        "Same level",
        "Of every two levels for the same take and criterion, how many are the same.",
        "Pairs of equal levels over all pairs of levels of the same take and criterion. The"
        " interval is Wilson's where each take has one pair, else a bootstrap over the takes.",
        "Wilson 1927, J. Am. Stat. Assoc. 22:209 (interval).",
        _NO_PAIRS,
    ),
    (
        "agreement_within_one",
        "Within one level",
        "Of every two levels for the same take and criterion, how many are at most one apart.",
        "As the same level, with pairs that differ by one level counted too. On four levels it is"
        " high even by guessing, so read it beside the others.",
        "Wilson 1927, J. Am. Stat. Assoc. 22:209 (interval).",
        _NO_PAIRS,
    ),
    (
        "kappa",
        "Same level beyond chance",
        "How much of the agreement is left when what habit alone would give is taken off.",
        "(observed - expected) / (1 - expected) agreement of two raters, expected from how often"
        " each gives each level. 1 is always the same, 0 is no better than habit.",
        "Cohen 1960, Educ. Psychol. Meas. 20:37.",
        f"{_NO_PAIRS[:-1]}, or both gave one level only.",
    ),
    (
        "weighted_kappa",
        "Near levels beyond chance",
        "The same, with a near miss counted as less bad than a far one.",
        "One minus the weighted disagreement seen over the weighted disagreement that habit would"
        " give; the weight is the distance of the levels, or its square.",
        "Cohen 1968, Psychol. Bull. 70:213.",
        f"{_NO_PAIRS[:-1]}, or both gave one level only.",
    ),
    (
        "alpha",
        "Agreement of all raters",
        "One figure for any number of raters, also where not everybody rated everything.",
        "Krippendorff's alpha: one minus the disagreement seen within takes over the disagreement"
        " of all levels put together. Levels as names, in order, or with equal steps. 1 is always"
        " the same, 0 is chance. The interval is a bootstrap over the takes.",
        "Krippendorff 2004, Content Analysis, 2nd edition.",
        f"{_NO_PAIRS[:-1]}, or every level given is the same.",
    ),
    (
        "icc",
        "Share that is about the takes",
        "Of the differences between levels, the share that comes from the takes, not the raters.",
        "The six intraclass correlations. First number: 1 any raters, 2 the same raters drawn from"
        " many, 3 these raters only. Second: 1 for one rater's level, k for the mean of all k."
        " Intervals from the F distribution.",
        _SHROUT_FLEISS,
        "No take was rated by all raters, or the takes do not differ.",
    ),
    (
        "severity",
        "Stricter or milder",
        "How much lower one person rates than another when both hear the same.",
        "Difference of two raters' severities in the many-facet model, with every take an object"
        " of its own, in rating points for a musician of the middle; 95 percent interval. Only"
        " directors' levels count.",
        "Linacre 1989, Many-Facet Rasch Measurement; Muraki 1990, Appl. Psychol. Meas. 14:59"
        " (steps); from memory.",
        "There is one rater, or nothing joins the two (see What may be compared).",
    ),
    (
        "comparable",
        "What may be compared",
        "Whether the levels given can tell a strict rater from a weak group at all.",
        "Elements are in one class when the ratings alone fix their difference: students are"
        " eliminated from the design, and elements that the remaining null vectors move apart are"
        " in different classes. A connected graph is not enough. Nothing is ranked across classes.",
        "Rank of the design (linear algebra); our own test on seven designs.",
        "It always speaks; with one rater it has nothing to separate.",
    ),
    (
        "steadiness",
        "Steady with yourself",
        "How often you gave a take the same level when you heard it again without knowing.",
        "Levels that are the same, and within one, over levels given again by hidden repeats; and"
        " the mean second minus first level with its 95 percent interval.",
        "Common practice (rating again, hidden).",
        "Too few takes were heard again.",
    ),
    (
        "drift",
        "Moving over an evening or a year",
        "Whether you grow stricter or milder as the evening or the year goes on.",
        "Slope of the second minus the first level on the minutes (or days) between them, from"
        " hidden repeats, and over the year from takes that two raters share; 95 percent interval."
        " Other levels cannot tell a moving rater from growing musicians.",
        "Least squares.",
        "Too few takes were heard again, or all at the same distance.",
    ),
    (
        "one_impression",
        "One impression",
        "Whether the criteria of one take move together more than musicians differ.",
        "Standard deviation, in rating points, of what one rater's levels of one take share beyond"
        " the musician's own place, that place's trend and the day that all raters heard. A take"
        " with one rater cannot tell the day from the impression. Sure when a"
        " likelihood-ratio test says so.",
        "Thorndike 1920, J. Appl. Psychol. 4:25 (halo).",
        "Takes have one criterion only, or musicians one take.",
    ),
    (
        "joins",
        "Rate each other's takes",
        "How many takes two people must both rate before their levels can be compared.",
        "One pair of raters fewer than there are classes of raters. Each take that both rate tells"
        " half of one rater's information about their difference; so many are asked that the"
        " difference is known to a third of a level to each side, 95 times of 100. A rater with one"
        " impression for all criteria needs more.",
        "Fisher information of the many-facet model; our choice of a third of a level.",
        "There is one rater, or all can be compared already.",
    ),
    (
        "double_rating_error",
        "How surely raters differ",
        "How far the differences between raters may be off, before and after rating takes twice.",
        "Root of the mean, over pairs of raters, of the variance of their difference, in rating"
        " points: from the information about tasks, criteria and raters with takes and musicians"
        " eliminated. Each pick is the take and second rater that lessen it most; no section and no"
        " level has more than one and a half times its even share.",
        "A-optimal design, greedy (Atkinson & Donev 1992, Optimum Experimental Designs; from"
        " memory).",
        "There is one rater, or nothing joins the raters yet (no error before).",
    ),
)
"""In the order in which a page explains them."""
