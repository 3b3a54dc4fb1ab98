"""A form for the phone: one page per keeper, whose entries come back as check notes.

Comes in: a study. Goes out: self-contained pages that need no server and no network; what they send
are the lines of plain check notes, which ``cohort log`` reads. Never: a grammar of their own.
"""

from cohort.desk.form.material import FormFounding, FormMaterial, form_material
from cohort.desk.form.page import LANGUAGES, render_form

__all__ = ["LANGUAGES", "FormFounding", "FormMaterial", "form_material", "render_form"]
