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
        "One minus the disagreement seen within takes over the disagreement"
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
        "Difference of two raters' places in the many-facet model, each take an object of its own"
        " and each rater with a place in every criterion, turned into rating points about the"
        " middle musician. The error is the larger of the model's and of one with each musician's"
        " scores summed first. The interval holds for all pairs and criteria told together, 95"
        " times of 100; nothing is sure with fewer than 3 takes that both rated. Only directors'"
        " levels count.",
        "Linacre 1989, Many-Facet Rasch Measurement (from memory); Liang & Zeger 1986, Biometrika"
        " 73:13 (summed scores).",
        "There is one rater, nothing joins the two, or one gave one end of the levels only.",
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
        "Levels that are the same, and within one, of all given again by hidden repeats; and how"
        " much stricter the second time was: mean of first minus second level, a take counting"
        " once, with Student's t and one level step added to the squares so that the interval never"
        " closes. 95 times of 100 over all raters.",
        "Agresti & Min 2005, Stat. Med. 24:729 (the added step).",
        "For the shift: fewer than 8 takes were heard again.",
    ),
    (
        "drift",
        "Moving over an evening or a year",
        "Whether you grow stricter or milder as the evening or the year goes on.",
        "Slope of first minus second level on the minutes between the two hearings in their"
        " evenings (told for half an hour) and on the days between (told for a month), each with"
        " the other held still; and, against another rater, slope on the day of the takes that both"
        " rated. Least squares by takes, Student's t, 95 times of 100 over all raters and both"
        " kinds. Other levels cannot tell a moving rater from growing musicians.",
        "Least squares; Agresti & Min 2005, Stat. Med. 24:729 (one step added).",
        "Fewer than 12 takes were heard twice, or the times between are too much alike.",
    ),
    (
        "one_impression",
        "One impression",
        "Whether the criteria of one take move together more than musicians differ.",
        "Standard deviation, in rating points, of what the levels of one take share beyond the"
        " musician's own place and its trend: the day and the rater's impression together; 95"
        " percent interval from the likelihood, and sure when the interval is off zero (5 in 100"
        " over all raters). The two are told apart by takes that two raters heard, from 10 up; a"
        " rater's own impression is sure by a likelihood-ratio test.",
        "Thorndike 1920, J. Appl. Psychol. 4:25 (halo); Yen 1984, Appl. Psychol. Meas. 8:125.",
        "Fewer than 30 takes have two criteria and a musician with another take.",
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
