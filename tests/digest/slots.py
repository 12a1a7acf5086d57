"""Checks with zoneinfo, from the definition: a date's letter is due at the first instant whose local date it is and whose
local time is not before the hour, or where a gap took the rest of the date, at the gap's end. Lines: zone, instant in
seconds, date, hour."""
import sys
from datetime import date as Date, datetime, time, timedelta, timezone
from zoneinfo import ZoneInfo

def first(zone, date, at):
    noon = datetime(date.year, date.month, date.day, 12, tzinfo=timezone.utc)
    instants = [noon + timedelta(hours=h) for h in range(-48, 49, 3)]
    offsets = {u.astimezone(zone).utcoffset() for u in instants}
    naive = datetime.combine(date, at, tzinfo=timezone.utc)
    found = [naive - offset for offset in offsets]
    for low, high in zip(instants, instants[1:]):
        if low.astimezone(zone).utcoffset() != high.astimezone(zone).utcoffset():
            while high - low > timedelta(seconds=1):
                middle = low + (high - low) // 2
                same = middle.astimezone(zone).utcoffset() == low.astimezone(zone).utcoffset()
                low, high = (middle, high) if same else (low, middle)
            found.append(high.replace(microsecond=0))
    local = [(u, u.astimezone(zone)) for u in found]
    due = [u for u, here in local if here.date() == date and here.time() >= at]
    return min(due or [u for u, here in local if here.date() > date])

checked = 0
for line in open(sys.argv[1]):
    name, seconds, date, at = line.split()
    zone, date, at = ZoneInfo(name), Date.fromisoformat(date), time.fromisoformat(at)
    ours = datetime.fromtimestamp(int(seconds), timezone.utc)
    assert first(zone, date, at) == ours, (name, ours, first(zone, date, at), at)
    checked += 1
print(checked)
