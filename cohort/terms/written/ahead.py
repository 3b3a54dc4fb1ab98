"""Tables beside the results: of seasons to come, of priors, of what was tried, of what was drawn.

What comes in: nothing. What goes out: their columns.
"""

from __future__ import annotations

from typing import Final

from cohort.terms.written.results import COMPARED, NO_CONTRAST, ROW_UNIT
from cohort.terms.written.shape import Cell, Written, date, flag, number, text, whole

POWER: Final = Written(
    "power",
    "power.csv",
    "power --out, analyses/power.py",
    "one number of foundings tried",
    (
        whole("foundings", "Foundings in all", "foundings"),
        whole("seasons", "Simulated seasons whose chains agreed", "seasons"),
        number("power", "Share of seasons whose likely range excludes no difference", "share"),
        number("power_se", "Its Monte Carlo error", "share"),
        number("wrong_side", "Share of seasons that exclude it on the wrong side", "share"),
        number("width", "Mean width of the likely range"),
        number("width_se", "Its Monte Carlo error", blank="one season only"),
        number("coverage", "Share of likely ranges that hold the truth", "share"),
        number("truth", "Mean of the true difference"),
        whole("unsettled", "Seasons left out because their chains did not agree", "seasons"),
    ),
)

_UNSETTLED: Final = "its comparison has not settled"
CLUBS: Final = Written(
    "clubs",
    "clubs.csv",
    "analyses/federation.py",
    "one club, compared by itself; `pooled` all of them as one study",
    (
        text("club", "Name of its folder"),
        whole("single", "Foundings compared that began with one queen", "foundings"),
        whole("multi", "Foundings compared that began with several", "foundings"),
        flag("settled", "Whether its comparison settled"),
        text("why", "Why it has not, or could not be made", "it has settled"),
        whole("queens", "Size of the groups the other columns speak of", "queens", _UNSETTLED),
        whole("day", "Last day that may be spoken of", "days since day 0", _UNSETTLED),
        number(
            "mean",
            "Chance of at least one colony from that many queens together, less the chance if each "
            "is kept alone, all kinds together, as seen",
            "chance",
            _UNSETTLED,
        ),
        number("low", "Lower end of its likely range", "chance", _UNSETTLED),
        number("high", "Upper end of its likely range", "chance", _UNSETTLED),
        number("level", "How much the likely range holds", "share", _UNSETTLED),
        number("chance_multi_better", "Chance that together is better", "chance", _UNSETTLED),
        text("word", "Verdict as in verdicts.csv", _UNSETTLED),
        text("side", "Its way as in verdicts.csv", f"as in verdicts.csv, or {_UNSETTLED}"),
    ),
)


def _goal(name: str, meaning: str, unit: str) -> tuple[Cell, ...]:
    return (
        number(name, meaning, unit),
        number(f"{name}_low", f"Lower end of its likely range ({meaning.lower()})", unit),
        number(f"{name}_high", f"Upper end of its likely range ({meaning.lower()})", unit),
    )


DIVISIONS: Final = Written(
    "divisions",
    "KIND/divisions.csv",
    "analyses/plan.py",
    "one way to divide the queens",
    (
        text("division", "Foundings and their queens, such as 3 + 2 x 1"),
        whole("foundings", "Foundings it makes", "foundings"),
        *_goal("at_least_one", "Chance of at least one colony", "chance"),
        *_goal("at_least_two", "Chance of at least two colonies", "chance"),
        *_goal("colonies", "Colonies on average", "colonies"),
        *_goal("workers_strongest", "Workers of the strongest colony 30 days after its first",
               "workers"),
        *_goal("workers_in_all", "Workers of all colonies 30 days after their first", "workers"),
        number("lasting", "Chance of at least one colony with a mated queen, if all die alike",
                "chance"),
        number("lasting_low", "The same, if mated queens die first", "chance"),
        number("all_lost", "Chance that all queens are lost", "chance"),
        number("first_workers_day", "Day by which it has workers as likely as not, if ever",
                "days since day 0", "workers come in under 1 of 100"),
        flag("efficient", "Whether every other way is worse in some count of colonies"),
        number("narrowing", "How much narrower it makes the likely range of the difference",
                "share", "not worked out"),
    ),
)  # fmt: skip
LOOKS: Final = Written(
    "looks",
    "looks.csv",
    "analyses/due.py",
    "one founding that is still looked at",
    (
        text("founding", "Its number"),
        text("keeper", "Keeper's sign", "not noted"),
        text("genus", "Genus or kind"),
        text("shelf", "Shelf", "not noted"),
        whole("queens", "Queens at the last count", "queens"),
        date("last_look", "Day of the last look"),
        whole("every", "Days from one look to the next", "days"),
        date("due", "Day of the next look"),
        whole("late", "Days by which it is overdue", "days"),
        text("when", "`today`, `this week`, `later` or `winter`"),
    ),
)
WINDOWS: Final = Written(
    "windows",
    "windows.csv",
    "analyses/due.py",
    "one founding that waits for its first worker",
    (
        text("founding", "Its number"),
        date("low90", "Day from which a first worker may come: 5 of 100 have it earlier"),
        date("low50", "25 of 100 have it earlier"),
        date("middle", "50 of 100 have it earlier"),
        date("high50", "75 of 100 have it earlier"),
        date("high90", "95 of 100 have it earlier"),
        number("none_this_season", "Chance that no worker comes this season", "chance"),
        number("unmated", "Chance that none of its queens is mated", "chance"),
        number("like_it", "Share of foundings like it that have workers by now", "share"),
        flag("overdue", "Whether it is overdue"),
        text("genus", "Genus or kind"),
        whole("queens", "Queens at the last count", "queens"),
        date("started", "Day 0"),
        date("last_day", "Day on which its season ends"),
    ),
)
GROUPS: Final = Written(
    "groups",
    "groups.csv",
    "analyses/due.py",
    "one group near or past its first workers",
    (
        text("founding", "Its number"),
        whole("queens", "Queens at the last count", "queens"),
        flag("workers", "Whether workers were seen"),
        number("workers_in_14", "Chance of workers within 14 days", "chance"),
        number("lose_one_7", "Chance of losing a queen within 7 days", "chance"),
        number("lose_all_7", "Chance of losing all within 7 days", "chance"),
        number("lose_one_14", "Chance of losing a queen within 14 days", "chance"),
        number("lose_all_14", "Chance of losing all within 14 days", "chance"),
        text("genus", "Genus or kind"),
    ),
)
BASIS: Final = Written(
    "basis",
    "priors.csv",
    "analyses/prior_look.py",
    "one prior",
    (
        text("parameter", "Its name in the draws"),
        text("meaning", "What it is, in plain words"),
        text("prior", "The distribution"),
        text("basis", "What it rests on"),
    ),
)
SAID: Final = Written(
    "said",
    "said-by-the-priors.csv",
    "analyses/prior_look.py",
    "one number, by the priors alone, for a kind nobody has tried",
    (
        text("quantity", "Name of the number"),
        whole("queens", "Founding size", "queens"),
        whole("day", "Day it speaks of", "days", "the number has no day"),
        text("reading", "As in comparisons.csv", "the number does not hang on it"),
        *(number(f"p{p:02d}", f"{p} of 100 draws lie below", "as the quantity")
          for p in (5, 25, 50, 75, 95)),
        number("chance_multi_better", "Chance that several queens do better", "chance",
               NO_CONTRAST),
    ),
)  # fmt: skip
RECOVERED: Final = Written(
    "recovered",
    "season-SEED.csv",
    "analyses/recover_truth.py",
    "one number of a simulated season, beside the truth",
    (
        *COMPARED,
        number("truth", "What is true", ROW_UNIT),
        number("se", "Its simulation error", ROW_UNIT),
        number("error", "Mean less truth; of ratios the difference of the logs", ROW_UNIT),
        flag("inside", "Whether the truth lies in the likely range"),
        whole("seed", "Seed of the season"),
    ),
)
RECOVERY: Final = Written(
    "recovery",
    "summary.csv",
    "analyses/recover_truth.py",
    "one quantity over all simulated seasons",
    (
        text("quantity", "Name of the number"),
        text("reading", "As in comparisons.csv", "the number does not hang on it"),
        text("arm", "As in comparisons.csv"),
        whole("rows", "Rows behind it", "rows"),
        number("inside", "Share of likely ranges that hold the truth", "share"),
        number("error", "Mean error"),
        number("spread", "Standard deviation of the error", blank="one row only"),
    ),
)
CALIBRATION: Final = Written(
    "calibration",
    "calibration.csv",
    "analyses/calibrate.py",
    "one quantity over all calibrated studies",
    (
        text("quantity", "Its name"),
        whole("studies", "Studies behind it", "studies"),
        number("coverage", "Share of 90 % intervals that hold the truth", "share"),
        number("mean_rank", "Mean rank of the truth; .5 if right", "share"),
        number("chi2", "Chi-square of the ranks in twenty equal classes"),
        whole("outside", "Ranks at which the band is left", "ranks"),
    ),
)
_WORLD: Final = (
    text("world", "Name of the world the studies were simulated in"),
    whole("foundings", "Foundings of each study", "foundings"),
    number("gain", "Chance that the largest group has a colony, less that of the same queens apart",
           "chance"),
)  # fmt: skip
TRIALS: Final = Written(
    "trials",
    "trials.csv",
    "analyses/broken_worlds.py, analyses/how_many_foundings.py",
    "one world, over all studies simulated in it",
    (
        *_WORLD,
        whole("studies", "Studies compared", "studies"),
        whole("settled", "Those that settled", "studies"),
        whole("reruns", "Those that were fitted again", "studies"),
        whole("diverged", "Those with a divergence in the run that was kept", "studies"),
        whole("flagged", "Those in which a check was flagged", "studies"),
        whole("clearly", "Those in which a way is called clearly better for anything", "studies"),
        whole("clearly_same", "Those in which it is for the same queens both ways", "studies"),
        whole("wrong", "Those in which it is for a way that is not truly better", "studies"),
        whole("wrong_same", "The same, for the same queens both ways", "studies"),
        *(whole(f"{what}_{reading}", f"Those whose likely range of {says} holds the truth, {how}",
                "studies")
          for what, says in (("any", "any colony"), ("count", "the number of colonies"))
          for reading, how in (("seen", "as seen"), ("alike", "mated and unmated dying alike"),
                               ("mated_first", "the mated dying first"))),
        number("seconds", "Processor time of a study, middle", "seconds"),
    ),
)  # fmt: skip
WORDS: Final = Written(
    "words",
    "words.csv",
    "analyses/how_many_foundings.py",
    "one word for all kinds together, over all studies of a world",
    (
        *_WORLD,
        text("word", "As in verdicts.csv"),
        text("side", "As in verdicts.csv", "the word names none"),
        whole("studies", "Studies compared", "studies"),
        number("share", "Share of them with this word", "share"),
        number("se", "Simulation error of the share", "share"),
    ),
)
CONCLUSIONS: Final = Written(
    "conclusions",
    "conclusions.csv",
    "analyses/published_designs.py",
    "one conclusion of a published experiment, over all studies simulated under one effect",
    (
        text("experiment", "Name of the experiment, as in cohort/simulate/published.py"),
        whole("finding", "Row of findings.csv"),
        text("effect", "What was true: `published`, `none` or `reversed`"),
        text("quantity", "As in comparisons.csv"),
        text("genus", "Kind, or `average`"),
        whole("queens", "Size of the group spoken of", "queens"),
        text("concluded", "By the paper: `multi` or `single` does better, `same`; or a number is "
             "`above` a line"),
        flag("holds", "Whether that is so under this effect"),
        whole("studies", "Studies compared", "studies"),
        whole("settled", "Those that settled", "studies"),
        whole("toward", "Those whose middle points the paper's way", "studies"),
        whole("drawn", "Those that conclude it: a chance of at least .95, or the likely range; of "
              "`same`: neither way is surely better", "studies"),
        *(whole(word, f"Those with the word {word}", "studies")
          for word in ("clearly", "expected", "leans", "same", "open")),
        text("unit", "Unit of the quantity"),
        number("mean", "Its mean, middle of the studies", ROW_UNIT, "none settled"),
        number("low", "Lower end of its likely range, middle of the studies", ROW_UNIT,
               "none settled"),
        number("high", "Upper end of its likely range, middle of the studies", ROW_UNIT,
               "none settled"),
    ),
)  # fmt: skip
LISTS: Final = Written(
    "lists",
    "lists/L1.csv",
    "allot, print night",
    "one lot of a drawn list, inside the study",
    (
        text("list", "Name of the list"),
        text("seed", "Seed of the draw"),
        text("drawn", "Day of the draw"),
        text("sizes", "Founding sizes drawn from"),
        text("shares", "How often each"),
        text("block_of", "What a block holds"),
        text("block", "Block", "not drawn"),
        whole("order", "Place in the draw"),
        text("kind", "Genus or kind", "for any kind"),
        text("keeper", "Keeper's sign", "not named"),
        text("flight", "Flight or catch", "not named"),
        text("founding", "Number it got", "printed before the season"),
        text("arm", "`single` or `multi`"),
        whole("queens", "Queens of the lot", "queens"),
        text("which", "Which queens", "not said"),
        text("assigned", "`random`, or why it was not drawn"),
    ),
)
NAMES: Final = Written(
    "names",
    "brought/FILE-names.csv",
    "bring",
    "one founding of a table that was brought, inside the study",
    (
        text("founding", "Number it got"),
        text("own_name", "What its keeper calls it", "it had none"),
        whole("row", "Row of the table that was brought"),
    ),
)
