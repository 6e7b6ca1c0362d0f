"""The engine: Ray places swings on machines, tries again what a lost machine had, and tells what came of each."""

import os
import time

import ray

import plans
import store
import swing

# Tries of one swing by the engine, lost machines among them, besides the first.
RETRIES = 3
# Swings handed to the engine for each place that it has: enough that no machine waits for the driver.
AHEAD = 2
# The longest wait for the next answers, seconds, and how many are taken at once.
LOOK_S, TAKEN = 1.0, 256
# How often the cluster is asked for its size: machines come and go.
SIZE_EVERY_S = 10.0


class Plain(ValueError):
    """Machines would talk to each other in the clear."""


def connect(address, plain_network):
    """Joins a cluster, or starts an engine on this machine alone where no address is given."""
    os.environ.setdefault("RAY_USAGE_STATS_ENABLED", "0")
    if address and not plain_network and os.environ.get("RAY_USE_TLS") != "1":
        raise Plain(
            "The engine's machines would talk unencrypted: tasks carry names of players and clips. Set RAY_USE_TLS=1 "
            "and its certificates on every machine, or say --plain-network where nobody else is in their network."
        )
    # Swings on the machines need these files, and nothing else of this folder.
    for module in (plans, store, swing):
        ray.cloudpickle.register_pickle_by_value(module)
    if not ray.is_initialized():
        ray.init(address=address, include_dashboard=False if address is None else None, log_to_driver=False)


class Size:
    """How many swings the cluster can hold at the same time, asked for now and then."""

    def __init__(self, needs):
        self.needs, self.asked, self.slots = needs, 0.0, 1

    def now(self):
        if time.monotonic() - self.asked > SIZE_EVERY_S:
            there = ray.cluster_resources()
            by_memory = there.get("memory", 0) / (self.needs["memory_mb"] * 2**20)
            self.slots = max(1, int(min(there.get("CPU", 0) / self.needs["cores"], by_memory)))
            self.asked = time.monotonic()
        return self.slots


def answers(work, settings, retries=RETRIES):
    """(plan, task, outcome or exception) of each (plan, task) as the engine answers, at most a bounded number under way."""
    remote, commons, sizes = {}, {}, {}
    under_way = {}

    def submit(plan, task):
        needs = plan.common["needs"]
        shape = (needs["cores"], needs["memory_mb"])
        if shape not in remote:
            remote[shape] = ray.remote(
                num_cpus=needs["cores"],
                memory=needs["memory_mb"] * 2**20,
                max_retries=retries,
                retry_exceptions=[swing.Again],
            )(swing.do_swing)
            sizes[shape] = Size(needs)
        if id(plan) not in commons:
            commons[id(plan)] = ray.put(plan.common)
        under_way[remote[shape].remote(commons[id(plan)], task, settings)] = (plan, task)

    def taken():
        ready, _ = ray.wait(list(under_way), num_returns=min(len(under_way), TAKEN), timeout=LOOK_S)
        for ref in ready:
            plan, task = under_way.pop(ref)
            try:
                yield plan, task, ray.get(ref)
            except (ray.exceptions.RayError, swing.Again) as e:
                yield plan, task, cause(e)

    for plan, task in work:
        submit(plan, task)
        while len(under_way) >= AHEAD * max(s.now() for s in sizes.values()):
            yield from taken()
    while under_way:
        yield from taken()


def cause(error):
    """What a task raised, or what the engine says of a lost machine."""
    return getattr(error, "cause", None) or error
