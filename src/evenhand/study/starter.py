"""The study.toml that a new study begins with: valid as it stands, and meant to be written over."""

from __future__ import annotations

from typing import Final

_STARTER: Final = """\
# A study for Evenhand. It is valid as it stands: write your own question, factors and titles over these.
# Lines that begin with # are notes. Every key is explained in docs/reference/study-toml.md.

[study]
question = "Does a small living-room PC gain more from faster memory or from a higher power limit?"
baseline = "5200-45W"        # the setup that the others are compared with
confidence = 0.95            # of all intervals
low = "percentile"           # what "1 % low" means here: percentile, tail-mean or time-share
interval = "present"         # what a frame time runs between: present (calls), shown (frames on screen), or unstated
target_rate = 60             # frames per second that should not be missed

# The smallest difference that would matter to a player. Measures not named here keep their usual margin.
[margins]
average = "3 %"
low1_percentile = "5 %"
below_target = 2             # percentage points of the time

# Factors: what you change on purpose. All combinations of their levels become setups, here
# 5200-45W, 5200-65W, 6400-45W and 6400-65W. To leave some out or to name them yourself, list them:
#   [[setup]]
#   name = "cool"
#   label = "slow memory at 45 W"
#   levels = { memory = "5200", limit = "45W" }

[[factor]]
name = "memory"
label = "memory speed"

[[factor.level]]
name = "5200"
label = "DDR5-5200"
value = 5200                 # the level as a number, where it is one

[[factor.level]]
name = "6400"
label = "DDR5-6400"
value = 6400

[[factor]]
name = "limit"
label = "power limit"

[[factor.level]]
name = "45W"
label = "45 W"
value = 45

[[factor.level]]
name = "65W"
label = "65 W"
value = 65

# Titles: what you play. Each has one vote, however many scenes it has.

[[title]]
name = "harbour-lights"
label = "Harbour Lights"

[[title.scene]]
name = "tram"
label = "Tram ride to the pier"
seconds = 60                 # about how long it takes
pace = "clock"               # its length is fixed by the clock; "frames" for a replay of a fixed set of frames
settings = "1080p, medium"

[[title.scene]]
name = "rain"
label = "Rain on the quay"
seconds = 45
pace = "clock"
settings = "1080p, medium"

[[title]]
name = "ironvale"
label = "Ironvale"

[[title.scene]]
name = "foundry"
label = "Foundry, replay"
seconds = 50
pace = "frames"
settings = "1080p, high"

[[title]]
name = "moss-and-ember"
label = "Moss & Ember"

[[title.scene]]
name = "clearing"
label = "Clearing at dusk"
seconds = 60
pace = "clock"
settings = "1080p, medium"
cap = 144                    # a frame cap that you know of; leave the line out where there is none

# A title without scenes has one scene of its own name.
[[title]]
name = "night-ferry"
label = "Night Ferry"

[protocol]
visits = 3                   # how often each setup is applied anew; two visits are the least for a verdict
#   looks = [2, 3]             at how many visits you look at verdicts, to stop early where they hold; or
#   stop_at = "1 %"            stop once the average over titles is known to this; without either: judged once, at the end
runs = 2                     # recordings of each scene in a visit
warmup_runs = 0              # of these, how many at the start of a visit never count
rounds = "auto"              # auto, yes or no: whether visits come in rounds that hold each setup once
set_aside = []               # checks that may set a run aside without asking you, like ["too-short", "capped"]
notes = ""                   # anything a reader should know of how it was recorded
"""


def starter_text() -> str:
    """A commented study in TOML: memory speed × power limit on a small living-room PC, four invented titles."""
    return _STARTER
