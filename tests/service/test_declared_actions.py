"""Which action every operation declares: a literal table, so that a changed declaration fails."""

from __future__ import annotations

from typing import Any

DECLARED = {
    "GET /v1/groups": "list_groups",
    "POST /v1/groups": "found",
    "GET /v1/groups/{group_id}": "read_group",
    "GET /v1/groups/{group_id}/invitations": "invite",
    "POST /v1/groups/{group_id}/invitations": "invite",
    "GET /v1/groups/{group_id}/invitations/{invitation_id}": "invite",
    "DELETE /v1/groups/{group_id}/invitations/{invitation_id}": "invite",
    "POST /v1/invitations/{code}/acceptance": "join",
    "GET /v1/groups/{group_id}/members": "read_group",
    "DELETE /v1/groups/{group_id}/members/me": "leave",
    "GET /v1/groups/{group_id}/members/{member_id}": "read_group",
    "PATCH /v1/groups/{group_id}/members/{member_id}": "appoint",
    "DELETE /v1/groups/{group_id}/members/{member_id}": "keep_members",
    "GET /v1/me": "take_out",
    "DELETE /v1/me": "erase",
    "DELETE /v1/me/places/{place_id}": "erase",
    "DELETE /v1/groups/{group_id}/reporters/{reporter_id}": "erase_reporters",
    "GET /v1/tokens": "keep_account",
    "POST /v1/tokens": "keep_account",
    "DELETE /v1/tokens/{token_id}": "keep_account",
    "GET /v1/accounts": "keep_account",
    "POST /v1/accounts": "keep_account",
    "POST /v1/groups/{group_id}/members/{member_id}/password-reset": "reset_passwords",
    "GET /v1/groups/{group_id}/feet": "read_own",
    "POST /v1/groups/{group_id}/feet": "record",
    "GET /v1/groups/{group_id}/feet/{foot_id}": "read_own",
    "DELETE /v1/groups/{group_id}/feet/{foot_id}": "record",
    "GET /v1/groups/{group_id}/reports": "read_own",
    "POST /v1/groups/{group_id}/reports": "record",
    "GET /v1/groups/{group_id}/reports/{report_id}": "read_own",
    "PATCH /v1/groups/{group_id}/reports/{report_id}": "record",
    "DELETE /v1/groups/{group_id}/reports/{report_id}": "record",
    "GET /v1/groups/{group_id}/reviews": "review",
    "GET /v1/groups/{group_id}/reports/{report_id}/reviews": "read_own",
    "POST /v1/groups/{group_id}/reports/{report_id}/reviews": "review",
    "POST /v1/groups/{group_id}/imports": "record_for_others",
    "GET /v1/groups/{group_id}/exports": "read_own",
    "POST /v1/groups/{group_id}/exports": "read_own",
    "GET /v1/groups/{group_id}/jobs": "read_own",
    "GET /v1/groups/{group_id}/jobs/{job_id}": "read_own",
    "POST /v1/groups/{group_id}/jobs/{job_id}/cancellation": "read_own",
    "GET /v1/groups/{group_id}/jobs/{job_id}/file": "read_own",
    "GET /v1/groups/{group_id}/calibrations": "read_group",
    "POST /v1/groups/{group_id}/calibrations": "calibrate",
    "GET /v1/groups/{group_id}/calibrations/{calibration_id}": "read_group",
    "POST /v1/groups/{group_id}/calibrations/{calibration_id}/activation": "calibrate",
    "GET /v1/groups/{group_id}/calibrations/{calibration_id}/card": "read_group",
    "POST /v1/groups/{group_id}/rollbacks": "calibrate",
    "GET /v1/groups/{group_id}/calibrations/{calibration_id}/outcomes": "read_group",
    "GET /v1/groups/{group_id}/wider-pool": "read_group",
    "POST /v1/groups/{group_id}/wider-pool/contribution": "share",
    "DELETE /v1/groups/{group_id}/wider-pool/contribution": "share",
    "POST /v1/groups/{group_id}/wider-pool/use": "share",
    "DELETE /v1/groups/{group_id}/wider-pool/use": "share",
    "GET /v1/groups/{group_id}/wider-pool/summaries": "share",
    "POST /v1/groups/{group_id}/wider-pool/summaries": "share",
    "DELETE /v1/groups/{group_id}/wider-pool/summaries/{summary_id}": "share",
    "GET /v1/groups/{group_id}/suggestions": "read_own",
    "POST /v1/groups/{group_id}/suggestions": "ask",
    "GET /v1/groups/{group_id}/suggestions/{suggestion_id}": "read_own",
    "GET /v1/groups/{group_id}/designs": "read_group",
    "POST /v1/groups/{group_id}/designs": "keep_designs",
    "GET /v1/groups/{group_id}/designs/{design_id}": "read_group",
    "PATCH /v1/groups/{group_id}/designs/{design_id}": "keep_designs",
    "DELETE /v1/groups/{group_id}/designs/{design_id}": "keep_designs",
    "GET /v1/groups/{group_id}/designs/{design_id}/sizes": "read_group",
    "POST /v1/groups/{group_id}/designs/{design_id}/sizes": "keep_designs",
    "GET /v1/groups/{group_id}/designs/{design_id}/sizes/{size_id}": "read_group",
    "PATCH /v1/groups/{group_id}/designs/{design_id}/sizes/{size_id}": "keep_designs",
    "DELETE /v1/groups/{group_id}/designs/{design_id}/sizes/{size_id}": "keep_designs",
    "GET /v1/groups/{group_id}/designs/{design_id}/defaults": "read_group",
    "GET /v1/groups/{group_id}/designs/{design_id}/adoptions": "read_group",
    "POST /v1/groups/{group_id}/designs/{design_id}/adoptions": "keep_designs",
    "POST /v1/groups/{group_id}/designs/{design_id}/adoptions/{adoption_id}/reversal": (
        "keep_designs"
    ),
    "GET /v1/groups/{group_id}/designs/{design_id}/effects": "read_group",
    "GET /v1/groups/{group_id}/designs/{design_id}/test-knit-plan": "read_group",
    "GET /v1/groups/{group_id}/designs/{design_id}/pattern-table": "read_group",
    "GET /v1/groups/{group_id}/designs/{design_id}/size-table": "read_group",
    "POST /v1/groups/{group_id}/designs/{design_id}/size-table": "keep_designs",
}
"""What an operation asks leave for. Those that are open to everybody declare nothing."""


def test_every_operation_declares_the_action_that_is_written_here(lasting: Any) -> None:
    found = {
        f"{method.upper()} {path}": told["x-action"]
        for path, item in lasting.client.get("/openapi.json").json["paths"].items()
        for method, told in item.items()
        if method != "parameters" and "x-action" in told
    }
    assert found == DECLARED
