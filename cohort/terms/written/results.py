"""Tables of a folder of results.

What comes in: nothing. What goes out: the columns of ``comparisons.csv``, ``verdicts.csv``,
``sensitivity.csv``, ``curves.csv``, ``foundings.csv`` and of what ``compare --thorough`` adds.
"""

from __future__ import annotations

from typing import Final

from cohort.terms.contract import COVARIATES
from cohort.terms.written.shape import Cell, Written, as_typed, date, flag, number, text, whole

NEVER: Final = "inf: not seen"
ROW_UNIT: Final = "as in `unit`"
_KIND: Final = text(
    "genus",
    "Genus, or its keeper's word for a kind not yet named; `other kinds` the rarest of very many; "
    "`average`, `next_season` (the average in a season not yet seen) and `new` as well",
)
NO_CONTRAST: Final = "the row is no contrast"
_SUMMED: Final = (
    number("mean", "Mean over the draws; of ratios the mean of the logs", ROW_UNIT),
    number("low", "Lower end of the likely range", ROW_UNIT),
    number("high", "Upper end of the likely range", ROW_UNIT),
    number("level", "How much the likely range holds", "share"),
    whole("foundings", "Foundings behind the row", "foundings"),
    flag(
        "carried_over",
        "Whether the number lies beyond what was followed of the kind: a later day, or a way or "
        "size of which it has no founding",
    ),
    number(
        "own_share",
        "How much of it comes from the kind's own foundings: 1 less its variance over that of a "
        "kind without any",
        "share",
        "of `average`, `next_season` and `new`, or the number does not vary",
    ),
    number(
        "chance_multi_better",
        "Chance that several queens do better than one",
        "chance",
        f"{NO_CONTRAST}, or neither direction is better",
    ),
)
_WHICH: Final = (
    text("question", "Question it answers"),
    text("quantity", "Name of the number"),
    text("unit", "Unit of the number"),
    text(
        "reading",
        "What is called a colony: `seen` (workers and any living queen), or a living mated queen "
        "if mated and unmated queens die `alike` or `mated-first`; the same for one queen alone",
        "the number does not hang on it",
    ),
    _KIND,
    text("arm", "`single`, `multi`, `difference` (multi less single) or `ratio` (multi by single)"),
    whole("queens", "Founding size the row speaks of; on contrasts that of the group", "queens"),
    whole("day", "Day it speaks of", "days since day 0, or since the first worker",
           "the number has no day"),
)  # fmt: skip
COMPARED: Final = (
    *_WHICH,
    *_SUMMED,
    number(
        "prior_chance_multi_better",
        "The same chance by the priors alone",
        "chance",
        f"{NO_CONTRAST}, or neither direction is better",
    ),
    number(
        "chance_practically_equal",
        "Chance that both ways come to about the same",
        "chance",
        f"{NO_CONTRAST}, or no band of equality is set for it",
    ),
    flag("prior_rules", "Whether the number is mostly what was assumed beforehand",
          "not asked of this number"),
)  # fmt: skip

COMPARISONS: Final = Written(
    "comparisons",
    "comparisons.csv",
    "compare, newsletter",
    "one number of the comparison; no rows where it has not settled",
    COMPARED,
)
_JUDGED: Final = (
    text(
        "genus",
        "Genus, or its keeper's word for a kind not yet named; `average`, `new`, `next_season`; "
        "`differ`: whether kinds differ",
    ),
    whole("queens", "Founding size of the groups", "queens"),
    whole("day", "Day it speaks of: the latest within the day that may be spoken of",
          "days since day 0", "the number has no day"),
    text("contrast", "Name of the number in comparisons.csv (column `quantity`)"),
)  # fmt: skip
_BETTER: Final = "Chance that several queens do better than one, as seen; of `differ` the level of "
VERDICTS: Final = Written(
    "verdicts",
    "verdicts.csv",
    "compare, newsletter",
    "one contrast and what may be said of it; no rows where the comparison has not settled",
    (
        *_JUDGED,
        text("word", "`clearly`, `expected` (as one would have said beforehand), `leans`, `same` "
             "(about the same), `open`, `none` (no verdict)"),
        text("side", "`single` or `multi`: the way that is spoken of",
             "the word is `same`, `open` or `none`, or the row is that of `differ`"),
        number("chance", f"{_BETTER}the smallest credible region that leaves no difference out",
               "chance", "fewer than two kinds have foundings enough of their own"),
        number("prior_chance", "The same by the priors alone", "chance",
               "fewer than two kinds have foundings enough of their own"),
        number("evidence", "Odds of the likelier way over its odds by the priors alone", "factor",
               "the row is that of `differ`"),
        number("own_share", "How much of the number comes from the kind's own foundings", "share",
               "the row is not of one kind"),
        text("why", "What kept the word from being stronger: `few-own`, `day-short`, "
             "`carried-over`, `as-expected`, `flagged-check`, `not-by-lot`, `few-kinds`, "
             "`prior-strength`, `strength-unknown`, `readings-differ`, `unsure`; "
             "`none`: nothing did"),
    ),
)  # fmt: skip
SENSITIVITY: Final = Written(
    "sensitivity",
    "sensitivity.csv",
    "compare, newsletter",
    "one contrast of verdicts.csv, and its chance under other assumptions",
    (
        *_JUDGED,
        number("chance", "As in verdicts.csv", "chance", "as in verdicts.csv"),
        number("alike", "The same where mated and unmated queens die alike", "chance",
               "nothing hangs on it"),
        number("mated_first", "The same where mated queens die before unmated ones", "chance",
               "nothing hangs on it"),
        number("half", "The same with every prior at half strength", "chance",
               "not known: see `strength` in diagnosis.json"),
        number("double", "The same with every prior at double strength", "chance",
               "not known: see `strength` in diagnosis.json"),
        number("prior_chance", "The same by the priors alone", "chance", "as in verdicts.csv"),
        number("by_lot", "Foundings behind it that were allotted by lot", "share"),
        number("lot_alone", "The same by the foundings allotted by lot alone", "chance",
               "nothing hung on it, or they are too few"),
    ),
)  # fmt: skip
CURVES: Final = Written(
    "curves",
    "curves.csv",
    "compare, newsletter",
    "one day of one curve, which holds from that day on",
    (
        text("curve", "Name of the curve; `model_...` and `replicated_...` come from the model"),
        text("genus", "Genus or kind; `all`, `average`, `next_season` and `new` as well"),
        text("arm", "`single` or `multi`"),
        number("day", "Day", "days since day 0; `queens_left`: since the first worker"),
        number("estimate", "Height of the curve", "share, 0 to 1"),
        number("low", "Lower end of the likely range", "share",
                "one founding is all that stands behind it"),
        number("high", "Upper end of the likely range", "share",
                "one founding is all that stands behind it"),
        number("at_risk", "Queens or foundings under observation just before that day", "number",
                "a curve of the model"),
    ),
)  # fmt: skip
FOUNDINGS: Final = Written(
    "foundings",
    "foundings.csv",
    "compare, newsletter",
    "one founding of the study, those left out of the comparison too",
    (
        text("founding", "Its number"),
        text(
            "genus",
            "Genus, or its keeper's word for a kind not yet named; `other kinds` the rarest of "
            "very many",
        ),
        flag("named", "Whether the genus is known"),
        text("species", "Species as typed", "not noted"),
        text("season", "Season of its flight, as its study names it", "not noted"),
        whole("size", "Queens on day 0", "queens"),
        text("arm", "`single` or `multi`"),
        Cell("keeper", "text", "Keeper's sign; only where the study says show_keepers",
             blank="not noted", optional=True),
        text("flight", "Catch, else day of the flight", "not noted"),
        text("block", "Block of the drawn list", "not drawn"),
        text("assigned", "How its way was settled", "not noted"),
        text("left_out", "Why it stands outside the comparison", "it does not"),
        flag("compared", "Whether it stands in the comparison"),
        *(as_typed(column, "not noted") for column in COVARIATES),
        text("shelf", "Shelf of the temperature sheet", "not noted"),
        whole("mating_seen", "Queens seen mating", "queens"),
        date("started", "Day 0: the last queen of the group went in"),
        number("closed", "Day its container was closed; 0 unless days count from the flight",
                "days since day 0"),
        number("entry", "Day on which it was first followed", "days since day 0"),
        whole("entry_queens", "Queens on that day", "queens"),
        flag("entry_workers", "Whether workers were there on that day"),
        number("first_after", "Last look before the first worker was seen", "days since day 0"),
        number("first_by", f"Look that first showed a worker; {NEVER}", "days since day 0"),
        number("looked_to", "Last look that sought workers and saw none", "days since day 0"),
        number("end", "Last counted look in use", "days since day 0"),
        text("end_kind", "Why it was followed no further"),
        number("lost_after", f"Last look with a living queen before all were lost; {NEVER}",
                "days since day 0"),
        number("lost_by", f"Look that showed that all were lost; {NEVER}", "days since day 0"),
        whole("queens_end", "Queens counted at its last look in use", "queens"),
        number("brood_in", f"Day foreign brood was put in; {NEVER}", "days since day 0"),
        number("workers_cens", f"The same day, if before the first own worker; {NEVER}",
                "days since day 0"),
        number("brood_day", "Day of the count of workers about 30 days after the first, without "
                "winter rest in between",
                "days since day 0", "no such count"),
        number("brood_workers", "Workers counted on that day", "workers", "no such count"),
        Cell("shelf_temperature", "number", "Mean warmth of its shelf over the first 50 days",
             "degrees Celsius", "no log of its shelf covers half of them", optional=True),
        whole("queens_lost_before", "Queens lost before the first worker was seen, or by that look",
               "queens"),
        whole("queens_lost_after", "Queens lost after the first worker was seen", "queens"),
        flag("with_workers", "Whether a worker was seen"),
        flag("shared_workers", "Whether two or more queens were alive with the first worker"),
        flag("colony", "Whether it had workers and a living queen at its last look in use"),
        flag("known", "Whether its fate at the last day is known"),
    ),
)  # fmt: skip
CHECKS: Final = Written(
    "checks",
    "thorough/checks.csv",
    "compare --thorough",
    "one number that the model was asked to foretell, or that the lot would have kept even",
    (
        text("check", "What was counted"),
        text(
            "by",
            "Kind of group: `all`, `way`, `genus`, `species`, `size`, `season`, `month`, `keeper`, "
            "`keeper_single`, `keeper_multi` (a keeper's foundings of one way)",
        ),
        text("group", "Which one; keepers are numbered unless the study shows them", "by `all`"),
        text("genus", "Genus it speaks of", "all of them"),
        number("observed", "What happened", "queens, foundings, looks or days"),
        number(
            "expected",
            "Mean of the replicated studies; by keeper, size and season given the "
            "numbers by genus and way",
            "queens, foundings, looks or days",
        ),
        number("low", "Lower end of their likely range", "queens, foundings, looks or days"),
        number("high", "Upper end of their likely range", "queens, foundings, looks or days"),
        number(
            "tail_area",
            "Share of replicated studies further out, and half of those as far out, two-sided",
            "share",
            blank="a plain rule decides: flagged above `high`",
        ),
        flag(
            "flagged",
            "Whether it is further out than 5 % of false alarms allow, over all rows on the model "
            "or all on the allotment",
        ),
        text("touches", "Questions it bears on, with blanks between", "none"),
    ),
)
LEFT_OUT: Final = Written(
    "left_out",
    "thorough/left_out.csv",
    "compare --thorough",
    "one founding, foretold by the others",
    (
        text("founding", "Its number"),
        number("elpd", "Expected log predictive density", "nats"),
        number("pareto_k", "Shape of the importance weights"),
        flag("reliable", "Whether the shape is small enough for the density to be relied on"),
    ),
)
VARIANTS: Final = Written(
    "variants",
    "thorough/variants.csv",
    "compare --thorough",
    "one variant of the model",
    (
        text("variant", "Its name; `as agreed` is the model of the page"),
        text("meaning", "What it assumes"),
        number("elpd", "Expected log predictive density, summed over foundings", "nats"),
        number("difference", "The same less that of the model of the page", "nats"),
        number("se", "Standard error of the difference", "nats"),
        number("parameters", "Effective number of parameters"),
        number("worst_k", "Largest Pareto k of a founding"),
        whole("unreliable", "Foundings whose Pareto k is above the limit", "foundings"),
        flag("settled", "Whether its chains agreed"),
        whole("divergences", "Steps that went astray", "steps"),
    ),
)
PRIORS: Final = Written(
    "priors",
    "thorough/priors.csv",
    "compare --thorough",
    "one number, and how far it moves with each prior",
    (
        text("number", "Quantity, kind, founding size and day"),
        number("all priors", "Shift when all priors are scaled", "distance per doubling"),
        number("the data", "Shift when the data are scaled", "distance per doubling"),
        text("verdict", "What moves it"),
    ),
    rest=number("a prior", "Shift when that prior alone is scaled", "distance per doubling"),
)
_UNDONE: Final = "the reading changes nothing or cannot be fitted"
BOUNDS: Final = Written(
    "bounds",
    "thorough/bounds.csv",
    "compare --thorough",
    "one number under another reading of the study",
    (
        text("reading", "Its name; `as agreed` is the reading of the page"),
        text("meaning", "What it takes to have happened"),
        flag("settled", "Whether its chains agreed", _UNDONE),
        text("quantity", "Name of the number", _UNDONE),
        text(
            "colony",
            "What is called a colony: `reading` of comparisons.csv",
            f"the number does not hang on it, or {_UNDONE}",
        ),
        text("genus", "Genus or kind; `average`, `next_season` and `new` as well", _UNDONE),
        text("arm", "As in comparisons.csv", _UNDONE),
        whole("queens", "As in comparisons.csv", "queens", _UNDONE),
        whole("day", "As in comparisons.csv", "days", f"the number has no day, or {_UNDONE}"),
        text("unit", "Unit of the number", _UNDONE),
        number("mean", "As in comparisons.csv", ROW_UNIT, _UNDONE),
        number("low", "As in comparisons.csv", ROW_UNIT, _UNDONE),
        number("high", "As in comparisons.csv", ROW_UNIT, _UNDONE),
        number("level", "How much the likely range holds", "share", _UNDONE),
        whole("foundings", "Foundings behind the row", "foundings", _UNDONE),
        number("chance_multi_better", "As in comparisons.csv", "chance", NO_CONTRAST),
        number("shift", "Mean less that of the reading of the page", ROW_UNIT, _UNDONE),
    ),
)
