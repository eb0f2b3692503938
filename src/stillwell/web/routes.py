"""The table of routes: what there is, and who may do it."""

from stillwell.web.doors.passwords import Passwords
from stillwell.web.doors.sessions import Sessions
from stillwell.web.pages.entering import Entering
from stillwell.web.pages.people import Keeping
from stillwell.web.pages.plan import plan
from stillwell.web.pages.proof import Proving, drawing_script
from stillwell.web.pages.record import Looking
from stillwell.web.pages.today import Acting, Showing
from stillwell.web.route import ALL, ANYBODY, FAMILY, FITTER, FITTERS, HOUSEHOLD, Entry
from stillwell.web.standing.feed import Feed


def table(feed: Feed, sessions: Sessions, passwords: Passwords) -> list[Entry]:
    """Return every route but the fixed ones (static files, the way from / to /today)."""
    doors, keeping, today, acts = Entering(sessions, passwords), Keeping(passwords), Showing(feed), Acting(feed)
    proving, looking = Proving(), Looking()
    return [
        Entry("GET", "/enter", doors.ask, ANYBODY),
        Entry("POST", "/enter", doors.enter, ANYBODY),
        Entry("POST", "/leave", doors.leave, ALL),
        Entry("GET", "/welcome/{token}", doors.welcome, ANYBODY),
        Entry("POST", "/welcome/{token}", doors.accept, ANYBODY),
        Entry("POST", "/theme", doors.theme, ANYBODY),
        Entry("GET", "/today", today.show, ALL, twin=True),
        Entry("GET", "/today/live", today.live, ALL),
        Entry("POST", "/today/alarm", acts.alarm, ALL),
        Entry("POST", "/today/pause", acts.pause, HOUSEHOLD),
        Entry("POST", "/today/resume", acts.resume, HOUSEHOLD),
        Entry("POST", "/today/drill", acts.drill, frozenset({FAMILY, FITTER})),
        Entry("GET", "/record", looking.sheet, HOUSEHOLD, twin=True),
        Entry("GET", "/record/{day}", looking.window, HOUSEHOLD, twin=True),
        Entry("GET", "/record/{day}/{hour:int}", looking.window, HOUSEHOLD, twin=True),
        Entry("GET", "/record/{day}/{hour:int}/{minute:int}", looking.window, HOUSEHOLD, twin=True),
        Entry("GET", "/proof", proving.overview, HOUSEHOLD, twin=True),
        Entry("GET", "/proof/{number:int}", proving.hazard, HOUSEHOLD, twin=True),
        Entry("GET", "/proof/{number:int}/chart", proving.chart, HOUSEHOLD),
        Entry("GET", "/plan", plan, HOUSEHOLD, twin=True),
        Entry("GET", "/charts/vega.js", drawing_script, HOUSEHOLD),
        Entry("GET", "/people", keeping.show, ALL, twin=True),
        Entry("POST", "/people/invite", keeping.invite, FITTERS),
        Entry("POST", "/people/renew", keeping.renew, FITTERS),
        Entry("POST", "/people/remove", keeping.remove, FITTERS),
        Entry("POST", "/people/end-others", keeping.end_others, ALL),
        Entry("POST", "/people/password", keeping.change, ALL),
    ]
