"""The archive by night, measured by hand: python3 tests/bench/night.py BURLER GROUND [WORD=VALUE ...]

BURLER is the program (`cargo build --release`), GROUND draws archives (`cargo build --profile ground --example
archive_ground`). Draws an archive of planted truth, sweeps it with the real program, scores what is told of twins and
families against the truth, and measures: processor time a tile, sweeping again, `--full` beside a limit program, single
flipped bits, two sweeps at once, peak memory. Nothing outside a temporary folder is written.

  count=2000     tiles of the archive            floor=PROGRAM   a limit program with the jobs `hash DIR` and `small DIR`
  side=300       their side, in pixels           peers=FOLDER    scripts j1_NAME.py or .sh that inspect IN into OUT
  full=20        tiles of 3600 pixels            keep=FOLDER     where the archive stays to be looked at
  quarter=500    a smaller archive, for memory   flips=200       files of which one bit is flipped
"""
import collections
import csv
import json
import os
import random
import shutil
import statistics
import subprocess
import sys
import tempfile
import threading
import time

PEERS = {"ImageMagick": "j1_imagemagick.sh", "libvips": "j1_libvips.py", "Pillow": "j1_pillow.py"}


def peak(pid):
    """The largest resident size that a process had so far, in MB (VmHWM, proc(5)); 0 once it is gone."""
    try:
        with open(f"/proc/{pid}/status") as status:
            return next((int(line.split()[1]) / 1024 for line in status if line.startswith("VmHWM")), 0)
    except (OSError, ProcessLookupError):
        return 0


def children(pid):
    try:
        with open(f"/proc/{pid}/task/{pid}/children") as names:
            return [int(name) for name in names.read().split()]
    except OSError:
        return []


class Run:
    """A whole process: what it answered, its processor seconds with those of its children, and peaks of memory."""

    def __init__(self, command, cwd=None):
        start = time.monotonic()
        child = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=cwd)
        self.memory, self.workers, done = 0, {}, threading.Event()

        def watch():
            while not done.wait(0.1):
                self.memory = max(self.memory, peak(child.pid))
                for worker in children(child.pid):
                    self.workers[worker] = max(self.workers.get(worker, 0), peak(worker))

        watching = threading.Thread(target=watch)
        watching.start()
        errors = []
        reading = threading.Thread(target=lambda: errors.append(child.stderr.read()))
        reading.start()
        self.out = child.stdout.read()
        _, status, usage = os.wait4(child.pid, 0)
        child.returncode = self.status = os.waitstatus_to_exitcode(status)
        done.set()
        watching.join()
        reading.join()
        self.err = errors[0]
        self.wall = time.monotonic() - start
        self.seconds = usage.ru_utime + usage.ru_stime

    def lines(self):
        return [json.loads(line) for line in self.out.splitlines()]

    def summary(self):
        return self.lines()[-1]

    def megabytes(self):
        return f"{self.memory:.0f} MB, its workers at most {max(self.workers.values(), default=0):.0f} MB"


class Sweeps:
    """The program with a ledger of its own over one archive."""

    def __init__(self, burler, folder, archive):
        self.archive, self.state, self.checked = archive, os.path.join(folder, "state"), os.path.join(folder, "checked")
        self.config = os.path.join(folder, "burler.toml")
        os.makedirs(folder, exist_ok=True)
        with open(self.config, "w") as file:
            file.write(f'[state]\nfolder = "{self.state}"\n\n[archive.ground]\nfolder = "{archive}"\n')
            file.write(f'checked = "{self.checked}"\n')
        self.command = [burler, "sweep", "--config", self.config]

    def run(self, *words):
        return Run([*self.command, *words])

    def written(self):
        """Everything that lies in archive, output and state folders, with size, time of writing and inode."""
        found = {}
        for top in (self.archive, self.state, self.checked):
            for folder, _, names in os.walk(top):
                for name in names:
                    path = os.path.join(folder, name)
                    info = os.lstat(path)
                    found[path] = (info.st_size, info.st_mtime_ns, info.st_ino)
        return found


def draw(ground, folder, count, side, full=0):
    words = [folder, str(count), str(side), str(full)] + (["planted"] if count else [])
    subprocess.run([ground, *words], check=True, stdout=subprocess.DEVNULL)
    if not count:
        return []
    with open(folder + ".truth.csv") as file:
        return list(csv.DictReader(file))


def tiles(folder, endings=(".png", ".jpg")):
    found = [os.path.join(at, name) for at, _, names in os.walk(folder) for name in names if name.endswith(endings)]
    return sorted(found)


def equal_somewhere(one, other):
    """Whether, in one of the eight ways to lay it down, every color of one tile is exactly one color of the other at some
    shift on the torus: two plain drawings can be one by chance. Tried by comparing pixels alone."""
    import numpy
    from PIL import Image

    def numbered(path):
        image = numpy.array(Image.open(path).convert("RGBA")).astype(numpy.uint32)
        return (image * numpy.array([1 << 24, 1 << 16, 1 << 8, 1], dtype=numpy.uint32)).sum(axis=2, dtype=numpy.uint32)

    first, second = numbered(one), numbered(other)
    chance = numpy.random.default_rng(1)

    def follows(a, b):
        _, ids = numpy.unique(a, return_inverse=True)
        pairs = numpy.unique(numpy.stack([ids.ravel(), b.ravel().astype(numpy.int64)]), axis=1)
        return len(numpy.unique(pairs[0])) == pairs.shape[1] == len(numpy.unique(pairs[1]))

    for turn in range(8):
        laid = numpy.rot90(numpy.fliplr(second) if turn >= 4 else second, turn % 4)
        if laid.shape != first.shape:
            continue
        height, width = first.shape
        ys, xs = chance.integers(0, height, 40), chance.integers(0, width, 40)
        own = first[ys, xs]
        same = own[:, None] == own[None, :]
        for down in range(height):
            # The probes at all shifts to the right at once.
            seen = laid[((ys - down) % height)[:, None], (xs[:, None] - numpy.arange(width)[None, :]) % width]
            fits = ((seen[:, None, :] == seen[None, :, :]) == same[:, :, None]).all(axis=(0, 1))
            for right in numpy.flatnonzero(fits):
                if follows(first, numpy.roll(laid, (down, right), (0, 1))):
                    return True
    return False


def score(archive, truth, lines):
    """What was told of twins and families against the truth."""
    made = {row["path"]: row for row in truth}
    group = {path: path for path in made}

    def top(path):
        while group[path] != path:
            path = group[path]
        return path

    right, wrong, chance, family_of = 0, [], 0, {}
    for line in lines:
        if line.get("remark") == "twins" or line.get("kind") == "twins":
            one, other = line["files"]
            group[top(one)] = top(other)
            if made[one]["work"] == made[other]["work"] and made[one]["colors"] == made[other]["colors"]:
                right += 1
            elif equal_somewhere(os.path.join(archive, one), os.path.join(archive, other)):
                chance += 1
            else:
                wrong.append((line["says"], one, other))
    for number, line in enumerate(line for line in lines if line.get("kind") == "family"):
        first = line["files"][0]
        for path in line["files"]:
            family_of[path] = number
        for path in line["files"][1:]:
            if made[path]["work"] == made[first]["work"] and made[path]["colors"] != made[first]["colors"]:
                right += 1
            elif equal_somewhere(os.path.join(archive, first), os.path.join(archive, path)):
                chance += 1
            else:
                wrong.append((line["says"], first, path))
    families = collections.defaultdict(set)
    for path, number in family_of.items():
        families[top(path)].add(number)
    originals = {row["work"]: row["path"] for row in truth if row["kind"] == "original"}
    kinds, missed = collections.defaultdict(lambda: [0, 0]), []
    for row in truth:
        original = originals.get(row["work"])
        if original is None or row["kind"] == "original":
            continue
        path = row["path"]
        together = top(path) == top(original)
        if row["colors"] == made[original]["colors"]:
            found = together
        else:
            found = not together and bool(families[top(path)] & families[top(original)])
        kinds[row["kind"]][0] += found
        kinds[row["kind"]][1] += 1
        if not found:
            missed.append((row["kind"], original, path))
    print(f"twins and families: {right} claims right, {len(wrong)} wrong, {chance} equal by chance")
    for what in wrong:
        print("  WRONG", *what)
    for what in missed:
        print("  missed", *what)
    for kind, (found, all_of) in sorted(kinds.items()):
        print(f"  {kind:<28}{found:>5} of {all_of:>4}")
    found, all_of = (sum(count[i] for count in kinds.values()) for i in (0, 1))
    print(f"  recall {found} of {all_of}, {found / all_of:.4f}; precision {right + chance} of {right + chance + len(wrong)}")


def flipped(sweeps, count):
    """Flips one bit in each of some files, keeping size and times; yields the files with what undoes it."""
    chance, done = random.Random(7), []
    every = tiles(sweeps.archive)
    for path in chance.sample(every, min(count, len(every))):
        info = os.stat(path)
        at, bit = chance.randrange(info.st_size), 1 << chance.randrange(8)
        done.append((path, at, bit))
        flip(path, at, bit)
    return done


def flip(path, at, bit):
    info = os.stat(path)
    with open(path, "r+b") as file:
        file.seek(at)
        byte = file.read(1)[0]
        file.seek(at)
        file.write(bytes([byte ^ bit]))
    os.utime(path, ns=(info.st_atime_ns, info.st_mtime_ns))


def main():
    words = [word for word in sys.argv[1:] if "=" not in word]
    asked = dict(word.split("=", 1) for word in sys.argv[1:] if "=" in word)
    if len(words) != 2:
        sys.exit(__doc__)
    burler, ground = map(os.path.abspath, words)
    count, side, full = (int(asked.get(*word)) for word in (("count", 2000), ("side", 300), ("full", 20)))
    with tempfile.TemporaryDirectory() as folder:
        if "keep" in asked:
            folder = os.path.abspath(asked["keep"])
            os.makedirs(folder, exist_ok=True)
        measure(burler, ground, folder, count, side, full, asked)


def measure(burler, ground, folder, count, side, full, asked):
    archive = os.path.join(folder, "archive")
    shutil.rmtree(archive, ignore_errors=True)
    truth = draw(ground, archive, count, side)
    files = tiles(archive)
    size = sum(os.path.getsize(path) for path in files)
    print(f"{len(files)} tiles of {side} px, {size / 1e6:.1f} MB, {size / len(files) / 1e3:.0f} kB each", flush=True)
    sweeps = Sweeps(burler, os.path.join(folder, "run"), archive)

    # Inspection alone, by the same workers as a sweep's, in one process.
    looked = Run([burler, "inspect", "--json", *files])
    print(f"inspect: {looked.seconds * 1e3 / len(files):.2f} ms a tile, {looked.wall:.1f} s of wall time", flush=True)
    first = sweeps.run("--no-mend", "--json")
    told = first.summary()
    verdicts = ", ".join(f"{told[word]} {word}" for word in ("sound", "mendable", "held", "unreadable"))
    print(f"first sweep: {first.seconds:.1f} s ({first.seconds * 1e3 / len(files):.1f} ms a tile), {first.wall:.1f} s of wall")
    print(f"  time, status {first.status}; {verdicts}; peak {first.megabytes()}", flush=True)
    if first.err.strip():
        print("  said:", first.err.strip()[-400:])
    score(archive, truth, first.lines())
    sys.stdout.flush()

    before = sweeps.written()
    again = sweeps.run("--no-mend", "--json")
    after = sweeps.written()
    changed = sorted(path for path in before.keys() | after.keys() if before.get(path) != after.get(path))
    print(f"again: {again.wall:.2f} s of wall time, {again.seconds:.2f} s; written: {changed or 'nothing'}")
    whole = [sweeps.run("--no-mend", "--full", "--json") for _ in range(3)]
    seconds, plain = statistics.median(run.seconds for run in whole), again.seconds
    print(f"--full: {seconds:.2f} s, {(seconds - plain) * 1e6 / len(files):.0f} us a file more than without")
    beside_floor(asked.get("floor"), files, folder)

    # Two at once: the second says so and leaves; the first is stopped afterwards, its work is known already.
    one = subprocess.Popen([*sweeps.command, "--full", "--json"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    lock, busy = time.monotonic(), None
    while one.poll() is None and time.monotonic() - lock < 30 and (busy is None or busy.status != 75):
        busy = sweeps.run("--full")
    one.wait()
    print(f"two at once: status {busy and busy.status}: {busy and busy.err.strip()}")

    flips = flipped(sweeps, int(asked.get("flips", 200)))
    names = {os.path.relpath(path, archive) for path, _, _ in flips}
    damaged = lambda run: {line["tile"] for line in run.lines() if line.get("state") == "damaged"}
    found = damaged(sweeps.run("--no-mend", "--full", "--json"))
    print(f"single flipped bits, size and times kept: {len(found & names)} of {len(names)} found, {len(found - names)} others")
    for path, at, bit in flips:
        flip(path, at, bit)
    left = damaged(sweeps.run("--no-mend", "--full", "--json"))
    print(f"  flipped back: {len(left)} damaged")

    fewer = int(asked.get("quarter", 500))
    if fewer:
        small = os.path.join(folder, "fewer")
        shutil.rmtree(small, ignore_errors=True)
        draw(ground, small, fewer, side)
        run = Sweeps(burler, os.path.join(folder, "run-fewer"), small).run("--no-mend", "--json")
        print(f"memory: {fewer} tiles {run.megabytes()}; {len(files)} tiles {first.megabytes()}", flush=True)
    if full:
        large = os.path.join(folder, "large")
        shutil.rmtree(large, ignore_errors=True)
        draw(ground, large, 0, side, full)
        run = Sweeps(burler, os.path.join(folder, "run-large"), large).run("--no-mend", "--json")
        each = run.seconds / full
        print(f"{full} tiles of 3600 px: {each * 1e3:.0f} ms each, {1 / each:.1f} a second and core; {run.megabytes()}")
        beside_floor(asked.get("floor"), tiles(large), folder)
    if "peers" in asked:
        beside_peers(burler, asked["peers"], asked.get("floor"), files, folder)


def is_rgba8(path):
    with open(path, "rb") as file:
        head = file.read(26)
    return head[:4] == b"\x89PNG" and head[24:26] == b"\x08\x06"


def beside_floor(floor, files, folder):
    """The limit program over the same files, one folder of links: it reads one folder of PNG files of 8 bits RGBA."""
    if not floor:
        return
    with tempfile.TemporaryDirectory(dir=folder) as links:
        for number, path in enumerate(path for path in files if is_rgba8(path)):
            os.symlink(path, os.path.join(links, f"{number:06}.png"))
        for job in ("hash", "small"):
            done = subprocess.run([floor, job, links], capture_output=True, text=True)
            for line in done.stdout.splitlines():
                if "read only" in line or "blake3, 1" in line or "structure true" in line:
                    print(f"  limit program, {job}: {' '.join(line.split())}", flush=True)


def beside_peers(burler, peers, floor, files, folder):
    """A process a file, in turn, over a hundred files: processor milliseconds of the whole process."""
    chosen = [path for path in files if is_rgba8(path)]
    chosen = chosen[:: max(1, len(chosen) // 100)][:100]
    out = os.path.join(folder, "answer.txt")
    jobs = {"Burler": lambda path: [burler, "inspect", "--json", path]}
    for name, script in PEERS.items():
        script = os.path.join(peers, script)
        with_what = "sh" if script.endswith(".sh") else sys.executable
        jobs[name] = lambda path, script=script, with_what=with_what: [with_what, script, path, out]
    if floor:
        jobs["limit program"] = lambda path: [floor, "j1", path, out]
    times = collections.defaultdict(list)
    for path in chosen:
        for name, command in jobs.items():
            run = Run(command(path))
            if run.status > (1 if name == "Burler" else 0):
                print(f"  {name} is not here, so not compared: {run.err.strip()[-200:]}")
                jobs = {other: job for other, job in jobs.items() if other != name}
            else:
                times[name].append(run.seconds * 1e3)
    print(f"a process a file, {len(chosen)} files, processor milliseconds each:")
    for name, each in times.items():
        print(f"  {name:<14}{statistics.mean(each):8.1f}")


main()
