"""English sentences of the page. Blanks in braces are filled by `cohort.newsletter.speech`."""

from __future__ import annotations

from cohort.figures.labels import ENGLISH
from cohort.newsletter.speech import Catalogue

SENTENCES: dict[str, str | dict[str, str]] = {
    # ---- small words
    "and": "{first} and {last}",
    "under_1": "less than 1",
    "over_99": "more than 99",
    "foundings": {"one": "{n} founding", "other": "{n} foundings"},
    "queens": {"one": "{n} queen", "other": "{n} queens"},
    "tubes": "tubes",
    "containers": "containers",
    # ---- the same queens, both ways
    "fair_head": "{K} queens, two ways.",
    "fair_together": (
        "Kept together: of 100 such groups about {mean} had workers and a living mated queen on "
        "day {day} (likely range {low} to {high})."
    ),
    "fair_apart": (
        "Kept in {k} single {tubes}: of 100 such {lots} about {mean} had at least one colony "
        "(likely range {low} to {high}),"
    ),
    "fair_count": "{mean} colonies on average (likely range {low} to {high}).",
    "fair_tail": (
        "the same {k} queens kept singly: of 100 such {lots} about {mean} had at least one "
        "colony on day {day} (likely range {low} to {high})"
    ),
    "verdict_any": (
        "For at least one colony {verdict}: together is the better way with a chance of "
        "{chance} in 100 ({before} in 100 before any sheet was read)."
    ),
    "verdict_count": (
        "For the number of colonies {verdict}: {chance} in 100 ({before} in 100 before)."
    ),
    "verdict_both": (
        "For at least one colony, and for the number of colonies, {verdict}: together is the "
        "better way with a chance of {chance} and {chance_2} in 100 ({before} and {before_2} "
        "before any sheet was read)."
    ),
    "verdict_here": (
        "Here {verdict}: together is the better way with a chance of {chance} in 100 "
        "({before} in 100 before any sheet was read)."
    ),
    "clear_single": "keeping them singly is clearly ahead",
    "clear_multi": "keeping them together is clearly ahead",
    "leaning_single": "it leans towards keeping them singly",
    "leaning_multi": "it leans towards keeping them together",
    "open": "it is open",
    "same": "both ways come to about the same",
    "carried_over": (
        "No founding of this kind with so many queens stands behind it: the number is carried "
        "over from other genera."
    ),
    "prior_rules": (
        "The sheets say hardly anything on this yet: the number is mostly what was assumed "
        "beforehand."
    ),
    "by_lot": (
        "Every founding behind this was allotted by lot, so the way of founding made the "
        "difference."
    ),
    "not_by_lot": (
        "Not every founding was allotted by lot, so something else about the queens may lie "
        "behind it."
    ),
    "change_clear": "Only a season that goes quite otherwise would turn this.",
    "change_leaning": "More foundings of both ways could still turn this.",
    "change_open": "More foundings of both ways are needed before anyone can tell.",
    "change_same": "Only many more foundings could show a small difference.",
    "behind": "Behind it: {single} by one queen and {multi} by {k}.",
    "behind_groups": "Behind it: {foundings} by {k} queens.",
    # ---- the other questions
    "survival": (
        "Of 100 queens kept singly about {mean_single} were alive on day {day} (likely range "
        "{low_single} to {high_single}); of 100 queens kept {k} together about {mean_multi} "
        "(likely range {low_multi} to {high_multi})."
    ),
    "first_worker": (
        "By day {day}, of 100 foundings by one queen about {mean_single} had workers (likely "
        "range {low_single} to {high_single}), of 100 by {k} together about {mean_multi} (likely "
        "range {low_multi} to {high_multi}); {tail}."
    ),
    "median_day": (
        "Half of those that got workers had them by day {mean_single} with one queen (likely "
        "range {low_single} to {high_single}) and by day {mean_multi} with {k} (likely range "
        "{low_multi} to {high_multi})."
    ),
    "left": (
        "Of 100 groups of {k} that came to have workers, {day} days later about {mean_one} had "
        "one queen left (likely range {low_one} to {high_one}), {mean_several} several (likely "
        "range {low_several} to {high_several}) and {mean_none} none (likely range {low_none} to "
        "{high_none}); {tail}."
    ),
    "colony": (
        "Counted by queens: 100 queens kept singly made about {mean_single} colonies by day {day} "
        "(likely range {low_single} to {high_single}), 100 queens kept {k} together about "
        "{mean_multi} (likely range {low_multi} to {high_multi})."
    ),
    "brood": (
        "About 30 days after the first worker, foundings by one queen had about {mean_single} "
        "workers (likely range {low_single} to {high_single}), foundings by {k} about "
        "{mean_multi} (likely range {low_multi} to {high_multi})."
    ),
    # ---- headline
    "headline_clear": "{kinds}: {way}",
    "head_clear_single": "Kept singly, the same queens clearly came out ahead",
    "head_clear_multi": "Kept together, the same queens clearly came out ahead",
    "head_leaning_single": "It leans towards keeping the queens singly",
    "head_leaning_multi": "It leans towards keeping the queens together",
    "head_open": "Singly or together: still open",
    "head_same": "Singly or together: about the same",
    "head_mixed": "Singly or together: it depends on the kind",
    "head_counts": "What became of the queens",
    "tally_clear_single": {
        "one": "In {n} kind keeping them singly is clearly ahead ({kinds}).",
        "other": "In {n} kinds keeping them singly is clearly ahead ({kinds}).",
    },
    "tally_clear_multi": {
        "one": "In {n} kind keeping them together is clearly ahead ({kinds}).",
        "other": "In {n} kinds keeping them together is clearly ahead ({kinds}).",
    },
    "tally_leaning_single": {
        "one": "In {n} kind it leans towards singly ({kinds}).",
        "other": "In {n} kinds it leans towards singly ({kinds}).",
    },
    "tally_leaning_multi": {
        "one": "In {n} kind it leans towards together ({kinds}).",
        "other": "In {n} kinds it leans towards together ({kinds}).",
    },
    "tally_open": {
        "one": "In {n} kind it is open ({kinds}).",
        "other": "In {n} kinds it is open ({kinds}).",
    },
    "tally_same": {
        "one": "In {n} kind both ways come to about the same ({kinds}).",
        "other": "In {n} kinds both ways come to about the same ({kinds}).",
    },
    "tally_head": "The question: the same {k} queens, together or each alone, at least one colony?",
    # ---- counts alone
    "unsettled": (
        "The comparison has not settled: this page tells what was counted and nothing more."
    ),
    "one_way": (
        "All foundings are by {way}, so there is nothing to compare: this page tells what was "
        "counted."
    ),
    "no_foundings": "No founding stands in the sheets yet.",
    "too_few": (
        "Fewer than 8 foundings of each way were followed: the comparison has not settled, and "
        "this page tells what was counted and nothing more."
    ),
    "no_workers": "No founding had workers by the end of this record.",
    "counted_way": "{way}: {foundings} with {queens}.",
    "counted_fates": "What became of the queens: {parts}.",
    "counted_workers": (
        "Workers were seen in {seen} of {n}, first on day {first}, last on day {last}, half of "
        "those by day {middle}."
    ),
    "counted_workers_one": "Workers were seen in 1 of {n}, on day {first}.",
    "counted_workers_none": "Workers were seen in none of {n}.",
    "catch_line": "{queens} were caught and kept on {days}, from {first} to {last}.",
    "days": {"one": "{n} day", "other": "{n} days"},
    # ---- the page
    "lang": "en",
    "title": "{title}",
    "untitled": "Founding study",
    "season": "Season {season}",
    "study_line": "{foundings} by {keepers} with {queens}, {kinds}.",
    "study_line_nobody": "{foundings} with {queens}, {kinds}.",
    "keepers": {"one": "{n} keeper", "other": "{n} keepers"},
    "kinds": {"one": "{n} kind of ant", "other": "{n} kinds of ants"},
    "h_short": "In short",
    "h_season": "The season, founding by founding",
    "h_flow": "From the catch to the comparison",
    "h_kinds": "Kind by kind",
    "h_counts": "What was counted",
    "h_pictures": "More pictures",
    "h_unseen": "What was not seen",
    "h_cautions": "Please mind",
    "h_how": "How it was done",
    "h_left_out": "Foundings left out, and why",
    "h_contents": "On this page",
    "h_numbers": "numbers",
    "h_details": "Details",
    "h_raw": "As counted, before any model",
    "h_comparisons": "All numbers of the comparison",
    "h_expected": "What the model expected, and what happened",
    "h_curves": "Curves, as counted",
    "h_sources": "The sheets behind this page",
    "topic_fair": "The same queens, both ways",
    "topic_survival": "Queens alive",
    "topic_first_worker": "First worker",
    "topic_left": "Queens left after the first worker",
    "topic_colony": "Colonies for the queens used",
    "topic_brood": "First brood",
    "skip": "To the text",
    "details_link": "All numbers, curves and what the model expected:",
    "back_link": "Back to the page",
    "made": "Made on {date}.",
    "level": "A likely range holds the true value with a chance of {level} in 100.",
    "print_foot": "All pictures and numbers: newsletter.html and details.html.",
    "print_season": "The season chart of so many foundings stands on the web page.",
    # ---- not seen
    "unseen_after": "Nothing here speaks of what comes after day {day}.",
    "unseen_multi": "No founding by several queens: {kinds}.",
    "unseen_single": "No founding by one queen: {kinds}.",
    "unseen_workers": "No workers were seen: {kinds}.",
    "unseen_marked": "Queens were not told apart, so nobody knows which queen of a group was lost.",
    "unseen_mated": (
        "Nobody looked inside a queen: whether she was mated shows only by her workers."
    ),
    "unseen_fight": (
        "A loss falls between two looks; what happened there was seen only where a fight is noted."
    ),
    "unseen_ended": {
        "one": "{n} founding ended before its fate was known ({parts}).",
        "other": "{n} foundings ended before their fate was known ({parts}).",
    },
    "part": "{word}: {n}",
    # ---- how it was done
    "how_unit": (
        "One container with its queens is one founding, and foundings are what is counted. Day 0 "
        "is the day the last queen went in."
    ),
    "how_flight": (
        "One container with its queens is one founding, and foundings are what is counted. Day 0 "
        "is the day of the flight."
    ),
    "how_followed": "They were followed to day {horizon} or to the first day of winter rest.",
    "how_looks": "They were looked at about every {every} days; {checks} looks were noted.",
    "how_lot_all": "Which queens went alone and which together was drawn by lot for all of them.",
    "how_lot_some": (
        "Which queens went alone and which together was drawn by lot for {n} of {all} foundings."
    ),
    "how_lot_none": "Which queens went alone and which together was the keepers' choice.",
    "how_model": (
        "The comparison follows every queen count from look to look and lets the kinds lend one "
        "another strength: a kind with few foundings is drawn towards the others."
    ),
    "how_mated": "A colony here means workers and at least one living mated queen.",
    "how_fair": (
        "Keeping queens together uses up more of them, so it is always set against the same "
        "queens kept singly."
    ),
    "how_fight_leave": "Fighting queens were left together.",
    "how_fight_part-at-first-bite": "Queens were parted at the first bite.",
    "how_fight_keeper's-choice": "Whether fighting queens were parted was the keeper's choice.",
    # ---- left out
    "left_none": "No founding was left out.",
    "left_line": "{founding} ({kind}): {why}",
    "left_fault": "{founding}: a fault in the sheets ({why})",
    "left_more": {"one": "and {n} more", "other": "and {n} more"},
    # ---- cautions
    "law_first": (
        "Local law and licensed advice come first: ask what may be caught, kept and moved where "
        "you live."
    ),
    "caution_release": (
        "Never release ants that are not from the spot where you stand, and never post them."
    ),
    "caution_collect": "Take few, with the land-owner's consent, and leave protected mounds alone.",
    "caution_lamp": (
        "At a light: mains power and rain do not go together; do not stare into UV lamps."
    ),
    "caution_kill": (
        "Queens that cannot be kept: chill them until nothing moves, then deep-freeze them long; "
        "what is known of insects' suffering is little."
    ),
    "caution_spreading": (
        "{genus} {species} spreads with people: never release, move or post it. Local law and "
        "licensed advice come first."
    ),
    "caution_sting": (
        "{genus} can sting, and a sting can cause a whole-body allergy: trouble breathing, "
        "swelling away from the sting or faintness means calling the emergency number. This is "
        "not medical advice."
    ),
    # ---- captions; the second of each pair is what a reader who cannot see it is told
    "cap_queen_survival": (
        "Queens alive by day. Line: as counted, a loss dated at the look that showed it, so it "
        "runs a few days late; shade: the likely range, by the model for each kind and by the "
        "counts for all kinds together. In brackets the foundings."
    ),
    "cap_first_worker": (
        "Foundings with workers by day. Line: as counted, dated at the look that showed the first "
        "worker, so it runs a few days late; shade: the likely range, by the model for each kind "
        "and by the counts for all kinds together. In brackets the foundings."
    ),
    "cap_queens_left": (
        "Groups of queens after their first worker: how many had no queen, one or several left. "
        "At the right how many groups were followed.{tail}"
    ),
    "cap_tail": "To compare: {tail}.",
    "cap_genera": (
        "Left: of 100 containers, how many had workers and a living queen on day {day}; filled "
        "mark and bar: with what the other kinds tell; hollow mark: this kind alone, as counted, "
        "groups of any size. Right: the same {k} queens together against each alone. At the edge "
        "the foundings behind it."
    ),
    "cap_colonies": (
        "Colonies on day {day} from 100 containers and from 100 queens. The second is the fair "
        "one when queens are scarce. Bars: likely range."
    ),
    "cap_catches": "Queens caught and kept, by day, way of catching and kind.",
    "cap_season": (
        "One bar per founding, from the day the queens went in to the last look; its height is "
        "the number of queens alive. Pale: before workers; full: with workers. {marks}"
    ),
    "cap_season_ends": "The other marks say how a founding ended.",
    "cap_flow": (
        "What became of the queens that were caught, and of the foundings. The numbers are taken "
        "from the sheets and add up; what the sheets do not say is named so."
    ),
    "cap_both_ways": (
        "The same {k} queens, kept together or each alone: of 100 tries, how many had at least "
        "one colony on day {day}; and colonies on average. Bars: likely range."
    ),
    "cap_hundred": "Of 100 queens that went in, what had become of them by the end of the record.",
    "cap_expected": (
        "What the model expected (bar: likely range) and what happened (mark). A mark outside "
        "its bar says that the model misses something."
    ),
    "cap_first_days": (
        "Days on which the first worker was seen, founding by founding; the dash is the middle."
    ),
    "alt_curve": (
        "{kind}: on day {day}, {single} of 100 with one queen and {multi} of 100 with several, "
        "as counted."
    ),
    "alt_queen_survival": "Queens alive by day.",
    "alt_first_worker": (
        "First workers by day. {kind}: half of all foundings had workers by day {single} with "
        "one queen and by day {multi} with several, as counted."
    ),
    "alt_first_worker_short": "First workers by day, one line for each way of founding.",
    "alt_queens_left": (
        "Queens left after the first worker. {kind}: {day} days later {one} of 100 groups had one "
        "queen, {several} several and {none} none, as counted{tail}."
    ),
    "alt_genera": "Kinds side by side. {parts}",
    "alt_genera_part": (
        "{kind}: together less singly {mean} of 100 (likely range {low} to {high})."
    ),
    "alt_colonies": "Colonies for the queens used on day {day}. {parts}",
    "alt_colonies_part": "{kind}: {single} from 100 queens kept singly, {multi} kept together.",
    "alt_catches": "Catch calendar: {queens} between {first} and {last}, most by {method}.",
    "alt_season": (
        "One bar for each of {foundings}; {workers} had workers, {lost} lost every queen."
    ),
    "alt_flow": "Flow of the queens: {parts}.",
    "alt_both_ways": "The same {k} queens, both ways. {parts}",
    "alt_both_part": "{kind}: {together} of 100 together, {apart} of 100 singly.",
    "alt_hundred": "Of 100 queens: {parts}.",
    "alt_hundred_way": "{way}: {fates}",
    "alt_expected": "Expected and seen: {inside} of {all} numbers lie inside their likely range.",
    "alt_first_days": (
        "First workers were seen on days {first} to {last}, half of them by {middle}."
    ),
    # ---- tables
    "t_kind": "kind",
    "t_way": "way of founding",
    "t_queens": "queens",
    "t_day": "day",
    "t_mean": "about",
    "t_low": "from",
    "t_high": "to",
    "t_foundings": "foundings",
    "t_quantity": "what",
    "t_better": "chance that together is better, of 100",
    "t_before": "the same before any sheet",
    "t_equal": "chance that both are about equal, of 100",
    "t_prior": "mostly assumed beforehand",
    "t_yes": "yes",
    "t_lost_before": "queens lost before workers",
    "t_lost_after": "queens lost after workers",
    "t_with_workers": "with workers",
    "t_colonies": "colonies",
    "t_of": "{x} of {n}",
    "t_share": "of 100",
    "t_check": "what",
    "t_observed": "seen",
    "t_expected": "expected",
    "t_tail": "how far out",
    "t_source": "from",
    "t_step": "step",
    "t_fate": "what became of them",
    "t_of_100": "of 100",
    "t_date": "date",
    "t_method": "way of catching",
    "t_founding": "founding",
    "t_started": "start",
    "t_first_worker": "day of the first worker",
    "t_end": "followed to day",
    "t_outcome": "end",
    "t_groups": "groups followed",
    "t_middle": "middle",
    "t_range": "{mean} ({low} to {high})",
    "t_file": "file",
    "t_sum": "check sum",
    "way_single": "singly",
    "way_multi": "together",
    "way_difference": "together less singly",
    "way_ratio": "together against singly",
    "way_none": "",
    "end_followed": "followed to the end of the record",
    "end_horizon": "followed to the agreed day",
    "end_all lost": "all queens lost",
}
"""Every sentence; a key with forms is chosen by the plural of `n`."""

QUANTITIES = {
    "q_share_alive_before_workers": "queens alive (clock stopped at the first worker), of 100",
    "q_share_alive": "queens alive, of 100",
    "q_queen_days": "days lived by a queen up to the agreed day",
    "q_hazard_ratio": "daily risk before workers, in company against alone",
    "q_chance_by_day": "foundings with workers, of 100",
    "q_median_day": "day by which half of those with workers had them",
    "q_time_ratio": "days to the first worker, together against singly",
    "q_fertile_share": "foundings able to have workers this season, of 100",
    "q_chance_one_left": "groups with one queen left, of 100",
    "q_chance_none_left": "groups with no queen left, of 100",
    "q_chance_several_left": "groups with several queens left, of 100",
    "q_expected_left": "queens left on average",
    "q_rivalry_ratio": "daily risk with workers, in company against alone",
    "q_last_fight_takes_both": "losses from two queens that take both, of 100",
    "q_chance_per_founding": "containers with workers and a living queen, of 100",
    "q_chance_lasting": "containers with workers and a living mated queen, of 100",
    "q_colonies_per_queen": "colonies from 100 queens",
    "q_at_least_one_from_same_queens": "same queens kept singly: at least one colony, of 100",
    "q_colonies_from_same_queens": "same queens kept singly: colonies on average",
    "q_same_queens_any": "same queens, together less singly: at least one colony, of 100",
    "q_same_queens_count": "same queens, together less singly: colonies on average",
    "q_workers_after_30_days": "workers about 30 days after the first",
}

CATALOGUE = Catalogue(
    language="en",
    locale="en_GB",
    labels=ENGLISH,
    sentences={**SENTENCES, **QUANTITIES},
    groups={0: "sets of {k}", 2: "pairs", 3: "trios"},
)
