"""The pages of one home. Server-rendered; each page is one value, one template and a JSON twin.

To add a page:

1. ``pages/NAME.py``: a frozen dataclass that holds everything the page shows, as plain values and finished sentences
   (from ``wording``), with ``title``, ``template`` and ``place`` (which entry of the top line is marked) as ClassVar.
   A pure function makes it from plan, record or store; a handler ``async def NAME(visit: Visit) -> Response`` fetches
   what that needs and ends in ``return shown(visit, page)``. What takes longer than a moment goes through
   ``anyio.to_thread.run_sync``.
2. ``templates/NAME.html``: ``{% extends "base.html" %}``, one ``{% block main %}``. Everything is escaped; no
   script, no style and no event attribute in it, the policy forbids them. Beside ``page`` there
   is ``frame`` (page.Frame).
3. ``routes.py``: a line in the table says method, path, handler and the roles that may come in. A GET has its twin
   under the same address with ``.json``, or when JSON is asked for: the dataclass as it is. A POST is handed its form
   as ``visit.form`` after its CSRF token was checked: put ``{{ frame.token() }}`` into each form.
4. A word in ``templates/base.html`` where it belongs into the top line; it stands there for those who may open it.

Scripts are plain ES modules in ``static/``, named in a block ``scripts`` of the template; a page must say all it has to
say without them. How it should look, and why: docs/look.md.
"""
