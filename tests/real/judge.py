"""Whether what the program said of a clip is what is seen in it."""
import json

TURNS = {
    "pelvis_turn_from_address": "hips",
    "thorax_turn_from_address": "shoulders",
    "separation": "separation",
}


def usable(estimate):
    """A number with its interval that the program stands by."""
    return estimate and estimate.get("deg") is not None and estimate.get("usable", True)


def moment(result, name):
    event = (result.get("events") or {}).get(name) or {}
    return event.get("s")


def words(got):
    """What the program said, in one cell of a table."""
    result = got["result"]
    if result is None:
        return f"exit {got['code']}: {got['said']}".replace("|", "/")
    parts = []
    top = (result.get("at") or {}).get("top") or {}
    for name, word in TURNS.items():
        e = top.get(name)
        if usable(e):
            parts.append(f"{word} {e['deg']:.0f}° ({e['low']:.0f} to {e['high']:.0f})")
        else:
            parts.append(f"{word} can't tell")
    moments = [f"{n} {moment(result, n):.2f} s" for n in ("address", "top", "impact", "finish") if moment(result, n) is not None]
    codes = sorted({w["code"] for w in result.get("warnings", [])})
    return f"exit {got['code']}: at the top {', '.join(parts)}; {', '.join(moments)}; notes: {', '.join(codes)}"


def verdict(clip, got):
    """(as expected, in words)."""
    expect, result = clip["expect"], got["result"]
    if got["code"] not in (0, 1, 3) or "panicked" in got["said"]:
        return False, f"NOT: ended with {got['code']}"
    if expect in ("no swing", "nobody"):
        if result is not None:
            return False, "NOT: measured, and there is no swing"
        if got["code"] != 1 or not got["said"]:
            return False, "NOT: no sentence, or another exit code than 1"
        if expect == "no swing" and "no swing" not in got["said"].lower():
            return False, "NOT: refused, but not by saying that there is no swing"
        return True, "as expected"
    if result is None:
        return False, "NOT: the swing was not found"
    if "beside" in clip and len(result["views"]) != 2:
        return False, "NOT: two clips of one swing were not taken for that"
    for name, (low, high) in clip.get("moments_s", {}).items():
        at = moment(result, name)
        if at is None or not low <= at <= high:
            return False, f"NOT: {name} at {at}, seen between {low} and {high} s"
    top = (result.get("at") or {}).get("top") or {}
    for name, (low, high) in clip.get("turns_deg", {}).items():
        e = top.get(name)
        if usable(e) and not (e["low"] <= high and e["high"] >= low):
            return False, f"NOT: {TURNS[name]} {e['deg']:.0f}° ({e['low']:.0f} to {e['high']:.0f}), seen {low} to {high}°"
    return True, "as expected"


def folder(clips, code, printed):
    """Whether a run over a folder measured the swings, and nothing else."""
    try:
        told = json.loads(printed)
    except json.JSONDecodeError:
        return False, f"NOT: it printed no JSON: {printed[:200]}"
    swings = sum(c["expect"] == "swing" for c in clips)
    measured = told.get("measured", 0)
    failed = len(told.get("failed", []))
    nothing = told.get("no_swing")
    words = f"{measured} measured, {failed} failed"
    if nothing is not None:
        words += f", {len(nothing) if isinstance(nothing, list) else nothing} without a swing"
    # Two clips of one swing may be paired.
    good = (0 < measured <= swings or swings == 0 and measured == 0) and code in (0, 1, 3)
    return good, ("as expected: " if good else "NOT: ") + words + f"; {swings} clips show a swing"
