"""The rows of the figures' table about tasks: hardness, telling apart, level use, worth. Pure.

Key, name, sentence, exact definition, source, when it says nothing.
"""

TASK_ROWS = (
    (
        "task_hardness",
        "How hard a task was",
        "How much lower the same musicians are rated on this task than on the others.",
        "Mean expected level on the other tasks of the same comparable class minus that on this"
        " one, of all who played any of them, in rating points; criteria and raters in the"
        " middle. The 95 percent interval is widened because levels of one take share its day."
        " Growth between two weeks counts into it: a later task looks easier.",
        "Linacre 1989, Many-Facet Rasch Measurement; from memory.",
        "It has fewer than 8 takes, or nothing joins it to another task.",
    ),
    (
        "telling_apart",
        "Telling musicians apart",
        "Whether those who do well elsewhere did well here too.",
        "Correlation, within ensembles, of a musician's mean level on this task with the mean on"
        " all other tasks, both freed of the hardness of task and criterion and of the rater."
        " From .40 up it tells well, from .20 somewhat, below hardly; surely below zero is"
        " backwards. Interval by Fisher's z. It told nothing only when the upper end is below .40.",
        "Ebel 1972, Essentials of Educational Measurement (.40 and .20; from memory); Fisher 1921.",
        "Fewer than 8 takes, fewer than 8 musicians with other tasks, or all levels the same.",
    ),
    (
        "level_use",
        "Levels used",
        "How often each level was given, and which one nobody got.",
        "Counts of the directors' levels 1 to 4 for the task. Too hard (easy) when 60 of 100 or"
        " more are the lowest (highest); one level when 90 of 100 or more are the same.",
        "Our choice of 60 and 90.",
        "No level was given; with fewer than 8 takes there are counts only.",
    ),
    (
        "task_added",
        "What a task added",
        "The share of all we learned about the musicians that came from this task.",
        "Information about the musician (model variance of each level; less where levels of a take"
        " share its day), times the square of this task's slope on the rest over the usual slope"
        " (slopes are drawn to their mean as far as their errors alone scatter them); as a share of"
        " the sum over tasks. A minute: that share over the task's share of the minutes, so 1 is as"
        " much a minute as all tasks together.",
        "Fisher information of the many-facet model; Muraki 1992, Appl. Psychol. Meas. 16:159"
        " (square of the slope); Efron & Morris 1973, J. Am. Stat. Assoc. 68:117 (drawing).",
        "Only one level was ever given; without minutes nothing is said a minute.",
    ),
)
"""In the order in which a page explains them."""
