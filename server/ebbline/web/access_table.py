"""Who may call which route, all of them. A route that isn't here lets nobody in.

A key, looking or a phone's, opens the session it was made for and no other; the desk is whoever
signed in, or everybody where the server is open.
"""

from __future__ import annotations

ANYBODY, DESK, LOOKING_KEY, PHONES_KEY = "anybody", "desk", "looking key", "phone's key"

_EVERY_KEY = (LOOKING_KEY, PHONES_KEY)

ACCESS: dict[str | None, tuple[str, ...]] = {
    # pages and their parts, which hold nothing of any session; the desk's sends to signing in
    "pages.landing": (ANYBODY,),
    "pages.page": (ANYBODY,),
    "pages.part": (ANYBODY,),
    "pages.file_of_version": (ANYBODY,),
    "pages.top": (ANYBODY,),
    "pages.d3": (ANYBODY,),
    "pages.worker": (ANYBODY,),
    "pages.authority": (ANYBODY,),
    "pages.where": (ANYBODY,),
    # calls that say nothing of anybody's sessions
    "api-docs.openapi_json": (ANYBODY,),
    "sign-in.get_me": (ANYBODY,),
    "sign-in.post_in": (ANYBODY,),
    "sign-in.post_out": (ANYBODY,),
    "time.get_time": (ANYBODY, *_EVERY_KEY),
    "join.get_join": (ANYBODY, PHONES_KEY),  # tells whoever shows no key to scan a code
    # what keys are for
    "live.get_live": (DESK, *_EVERY_KEY),
    "live.get_crew": (DESK, PHONES_KEY),
    "sessions.post_records": (DESK, PHONES_KEY),
    "photos.post_photo": (DESK, PHONES_KEY),
    # the desk's alone
    "campaigns.delete_campaign": (DESK,),
    "campaigns.get_campaign": (DESK,),
    "campaigns.get_campaigns": (DESK,),
    "campaigns.get_comparison": (DESK,),
    "campaigns.get_package": (DESK,),
    "campaigns.get_report": (DESK,),
    "campaigns.post_campaign": (DESK,),
    "campaigns.put_campaign": (DESK,),
    "files.get_csv": (DESK,),
    "files.get_file": (DESK,),
    "files.get_gpx": (DESK,),
    "files.post_import": (DESK,),
    "imports.post_look": (DESK,),
    "imports.post_photo_time": (DESK,),
    "imports.post_recording": (DESK,),
    "join.delete_key": (DESK,),
    "join.get_keys": (DESK,),
    "join.post_key": (DESK,),
    "known.get_known": (DESK,),
    "listing.get_labels": (DESK,),
    "listing.get_pair": (DESK,),
    "listing.get_picture": (DESK,),
    "listing.get_sessions": (DESK,),
    "listing.post_renewals": (DESK,),
    "listing.post_table": (DESK,),
    "photos.get_photo": (DESK,),
    "publications.get_frozen": (DESK,),
    "publications.get_publications": (DESK,),
    "publications.get_published_campaign": (DESK,),
    "publications.post_publication": (DESK,),
    "publications.post_published_campaign": (DESK,),
    "publications.post_several": (DESK,),
    "publish.get_all": (DESK,),
    "publish.get_offer": (DESK,),
    "publish.get_page": (DESK,),
    "publish.get_pages": (DESK,),
    "publish.get_piece": (DESK,),
    "publish.get_to_paste": (DESK,),
    "recordings.post_guess": (DESK,),
    "recordings.post_recording": (DESK,),
    "results.get_curves": (DESK,),
    "results.get_result": (DESK,),
    "results.post_trial": (DESK,),
    "schemas.get_schema": (DESK,),
    "sessions.get_revisions": (DESK,),
    "sessions.get_session": (DESK,),
    "sessions.put_archived": (DESK,),
    "sessions.put_session": (DESK,),
}
