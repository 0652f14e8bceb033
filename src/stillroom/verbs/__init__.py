"""One short function per thing that one can do; the command line is made from their signatures."""

from stillroom.verbs.answers import rank, trace
from stillroom.verbs.asking import ask
from stillroom.verbs.charting import chart
from stillroom.verbs.conditions import Conditions as Conditions
from stillroom.verbs.day import today
from stillroom.verbs.demo import demo
from stillroom.verbs.intake import add, note
from stillroom.verbs.keeping import backup, new, restore, verify
from stillroom.verbs.working import decide, reduce, review

VERBS = (
    new,
    demo,
    add,
    note,
    today,
    reduce,
    review,
    decide,
    rank,
    chart,
    ask,
    trace,
    verify,
    backup,
    restore,
)
"""All verbs, in the order in which the help lists them."""
