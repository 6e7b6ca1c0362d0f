"""A player asks to be forgotten: clips, results, outcomes and plans in the store, with every older version."""

import plans
import store as stores


def forget(store, player):
    """Removes what stands of a player; returns how many objects, and the plans written anew."""
    removed, renewed = 0, 0
    for key in store.keys("plans"):
        data = store.read(key)
        plan = plans.parse(key, data)
        shows = lambda task: (task["player"] or "").casefold() == player.casefold()
        clips = {c["sha256"] for task in plan.tasks if shows(task) for c in task["clips"]}
        if not clips:
            continue
        # First, so that a run under way keeps nothing of it.
        for sha in sorted(clips):
            store.put_once(stores.forgotten_key(sha), b"")
        for sha in sorted(clips):
            gone = [stores.clip_key(sha), *store.keys(f"outcomes/{sha}"), *store.keys(f"results/{sha}")]
            removed += remove(store, gone)
        # Swings whose first clip is another one stand under that.
        others = [t for t in plan.tasks if any(c["sha256"] in clips for c in t["clips"])]
        removed += remove(store, [k for t in others for k in (stores.outcome_key(t), stores.result_key(t))])
        text = plans.without(data, clips)
        if len(others) < len(plan.tasks):
            renewed += 1
            store.put_once(plans.plan_key(text), text)
        removed += remove(store, [key])
    return removed, renewed


def remove(store, keys):
    there = [k for k in keys if store.exists(k)]
    store.remove(keys)
    return len(there)
