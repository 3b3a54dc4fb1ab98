"""The table of a second opinion.

What comes in: nothing. What goes out: the columns of ``second_opinion.csv``.
"""

from __future__ import annotations

from typing import Final

from cohort.terms.opinions import DIFFERS, UNDONE
from cohort.terms.written.results import ROW_UNIT
from cohort.terms.written.shape import Written, number, text, whole

_NOT_DONE: Final = "the method gave no number, see `why`"
_NO_RANGE: Final = f"the method has no range, or {_NOT_DONE}"
_NO_MODEL: Final = "the model gives no such number, or has not settled"
SECOND_OPINION: Final = Written(
    "second_opinion",
    "second_opinion.csv",
    "compare, newsletter",
    "one number by one method other than the model",
    (
        text(
            "method",
            "`aft` log-normal days by brackets; `incidence` share with workers, loss of all queens "
            "competing; `incidence_jittered` the same by lifelines; `brackets` share with workers "
            "by brackets alone; `brackets_closed` the same by lifelines, which closes them; "
            "`logrank`, `cox` loss of all queens within kinds; `exact` colonies by container, "
            "exact test; `counted` colonies from the same queens; `lots` the queens shared out "
            "again by lot",
        ),
        text("question", "Question it answers"),
        text("quantity", "As in comparisons.csv; `loss_ratio` the ratio of the risks of losing all "
              "queens"),
        text("unit", "Unit of the number"),
        text("genus", "`all`, or a genus or kind"),
        text("arm", "As in comparisons.csv"),
        whole("queens", "Founding size of the model's number", "queens", _NO_MODEL),
        whole("day", "Day it speaks of", "days since day 0",
               "the number has no day, or no day could be spoken of"),
        number("estimate", "The number", ROW_UNIT, _NOT_DONE),
        number("low", "Lower end of its range", ROW_UNIT, _NO_RANGE),
        number("high", "Upper end of its range", ROW_UNIT,
                _NO_RANGE),
        number("level", "How much its range holds, and that of the model", "share"),
        number("p", "Chance of a number at least as far from no difference, if there was none",
                "chance", f"the method tests nothing, or {_NOT_DONE}"),
        whole("foundings", "Foundings behind it", "foundings"),
        number("model", "The model's number, of all kinds that of `average`", ROW_UNIT, _NO_MODEL),
        number("model_low", "Lower end of the model's likely range", ROW_UNIT, _NO_MODEL),
        number("model_high", "Upper end of the model's likely range", ROW_UNIT, _NO_MODEL),
        text("ignores", "What the method leaves out"),
        text(
            "differs",
            "Why the two differ, the strongest reason first: "
            + ", ".join(f"`{c}`" for c in DIFFERS)
            + ", each with its clause",
            "each lies within the range of the other, or one has no range",
        ),
        text(
            "why",
            "Why there is no number: " + ", ".join(f"`{c}`" for c in UNDONE) + ", with its clause",
            "there is one",
        ),
    ),
)  # fmt: skip
