"""Trains the strip reader: python3 train.py --fonts DIR --names DIR --out DIR [--seconds 500]

Everything random hangs on --seed; with a GPU's sums and a schedule by the clock a second run gives another net of like
quality, not the same bits.
"""

import argparse
import copy
import json
import math
import multiprocessing
import pathlib
import time

import torch
import torch.nn.functional as F

from draw import Drawer
from net import HEIGHT, Net, cost
from plan import PIXELS, Planner, faces, names
from text import ALPHABET

# Highest learning rate, steps until it is reached, and the share of the running mean kept at each step.
RATE, WARM_UP, KEEP = 2.5e-3, 400, 0.998
# Loss a character, in nats, beyond which a line counts less.
HOPELESS = 1.0
# Seeds of planners: training takes 1000 and up, validation the ones below.
VALIDATION_SEED, TRAINING_SEED = 11, 1000


def plan_forever(queue, seed, faces, names, pixels):
    planner = Planner(seed, faces, names)
    while True:
        queue.put(planner.batch(pixels))


def distance(a, b):
    """Levenshtein."""
    row = list(range(len(b) + 1))
    for i, x in enumerate(a, 1):
        before, row[0] = row[0], i
        for j, y in enumerate(b, 1):
            before, row[j] = row[j], min(row[j] + 1, row[j - 1] + 1, before + (x != y))
    return row[-1]


def best_path(logits):
    """Texts of the best path through logits [lines, classes, columns]."""
    texts = []
    for line in logits.argmax(1).cpu().tolist():
        kept = [c for c, before in zip(line, [0] + line[:-1]) if c and c != before]
        texts.append(" ".join("".join(ALPHABET[c - 1] for c in kept).split()))
    return texts


def loss_of(logits, plan, temperature=1.0, robust=False):
    """CTC loss a character."""
    scores = (logits.float() / temperature).log_softmax(1).permute(2, 0, 1)
    device = scores.device
    target, lengths = torch.from_numpy(plan["target"]).to(device), torch.from_numpy(plan["lengths"]).to(device)
    columns = torch.full((scores.shape[1],), scores.shape[0], dtype=torch.long, device=device)
    loss = F.ctc_loss(scores, target, columns, lengths, reduction="none", zero_infinity=True)
    # Lines beyond reading teach little and would drown the others.
    weight = (HOPELESS * (lengths + 1) / loss.detach().clamp(min=1e-3)).clamp(max=1.0) if robust else 1.0
    return (loss * weight).sum() / max(len(plan["target"]), 1)


class Validation:
    """Held-out lines in four sets: faces seen and not, damage seen and not."""

    def __init__(self, fonts, words, device, batches, pixels):
        self.sets, self.device = {}, device
        for held_faces in (False, True):
            atlas, found = faces(fonts, training=not held_faces, held_out=held_faces)
            for held_damage in (False, True):
                planner = Planner(VALIDATION_SEED, found, words)
                drawer = Drawer(atlas, device, VALIDATION_SEED, held_damage)
                name = f"{'new' if held_faces else 'known'} faces, {'new' if held_damage else 'known'} damage"
                plans = [planner.batch(pixels) for _ in range(batches)]
                self.sets[name] = [(plan, drawer(plan).half()) for plan in plans]

    @torch.no_grad()
    def run(self, net, part=None):
        figures = {}
        net.eval()
        for name, batches in self.sets.items():
            errors = characters = exact = lines = 0
            for plan, pictures in batches[:part]:
                read = best_path(net(pictures.float()))
                errors += sum(distance(r, t) for r, t in zip(read, plan["text"]))
                characters += sum(map(len, plan["text"]))
                exact += sum(r == t for r, t in zip(read, plan["text"]))
                lines += len(read)
            figures[name] = {"lines": lines, "cer": round(errors / characters, 5), "exact": round(exact / lines, 4)}
        return figures

    @torch.no_grad()
    def temperature(self, net):
        """What the logits are divided by so that held-out texts are most probable."""
        net.eval()
        kept = [(net(p.float()), plan) for n, b in self.sets.items() if n.startswith("new faces") for plan, p in b]
        tried = {t / 20: sum(loss_of(l, plan, t / 20).item() for l, plan in kept) for t in range(14, 50)}
        return min(tried, key=tried.get), tried


def main():
    arguments = argparse.ArgumentParser()
    for folder in ("fonts", "names", "out"):
        arguments.add_argument(f"--{folder}", type=pathlib.Path, required=True)
    arguments.add_argument("--seconds", type=float, default=500, help="of this call")
    arguments.add_argument("--schedule", type=float, help="seconds of all calls together; as --seconds if left out")
    arguments.add_argument("--resume", type=pathlib.Path, help="what an earlier call left as resume.pt")
    arguments.add_argument("--seed", type=int, default=TRAINING_SEED)
    arguments.add_argument("--workers", type=int, default=14)
    arguments.add_argument("--pixels", type=int, default=PIXELS, help="of one batch")
    a = arguments.parse_args()
    start = time.time()
    left = torch.load(a.resume, map_location="cpu") if a.resume else None
    spent = left["seconds"] if left else 0.0
    schedule = a.schedule or a.seconds
    # Another call draws other lines.
    a.seed += 100 * (left["calls"] if left else 0)
    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(a.seed)
    torch.backends.cudnn.benchmark = True
    a.out.mkdir(parents=True, exist_ok=True)
    log = (a.out / "log.txt").open("w")

    def say(line):
        print(line, flush=True)
        log.write(line + "\n")
        log.flush()

    words = names(a.names)
    atlas, found = faces(a.fonts)
    say(f"{len(found)} faces, {len(ALPHABET)} characters, {time.time() - start:.0f} s")
    queue = multiprocessing.Queue(4 * a.workers)
    for worker in range(a.workers):
        process = multiprocessing.Process(target=plan_forever, args=(queue, a.seed + worker, found, words, a.pixels), daemon=True)
        process.start()
    drawer = Drawer(atlas, device, a.seed)
    validation = Validation(a.fonts, words, device, 4 if device == "cuda" else 1, a.pixels)
    net = Net(len(ALPHABET) + 1).to(device, memory_format=torch.channels_last)
    mean = copy.deepcopy(net)
    multiply_adds, parameters = cost(net)
    say(f"{multiply_adds / 1e6:.0f} million multiply-adds a line of {HEIGHT} x 1,200, {parameters} parameters")
    decayed = [p for p in net.parameters() if p.ndim > 1]
    plain = [p for p in net.parameters() if p.ndim <= 1]
    optimiser = torch.optim.AdamW([{"params": decayed, "weight_decay": 0.01}, {"params": plain, "weight_decay": 0.0}], lr=RATE)
    if left:
        net.load_state_dict(left["net"])
        mean.load_state_dict(left["mean"])
        optimiser.load_state_dict(left["optimiser"])
    begun, quarter = time.time(), 1
    step, lines = (left["step"], left["lines"]) if left else (0, 0)

    def keep_all():
        """What another call goes on from, and the nets so far."""
        torch.save({"net": net.state_dict(), "mean": mean.state_dict(), "optimiser": optimiser.state_dict(), "step": step,
                    "lines": lines, "seconds": spent + time.time() - start, "calls": left["calls"] + 1 if left else 1}, a.out / "resume.pt")
        torch.save(mean.state_dict(), a.out / "net.pt")

    say(f"training begins after {begun - start:.0f} s")
    while True:
        if time.time() - start >= a.seconds:
            break
        done = min((spent + time.time() - start) / schedule, 1)
        rate = RATE * min((step + 1) / WARM_UP, 1) * (0.5 * (1 + math.cos(math.pi * done)) + 0.002)
        for group in optimiser.param_groups:
            group["lr"] = rate
        plan = queue.get()
        with torch.no_grad():
            pictures = drawer(plan).contiguous(memory_format=torch.channels_last)
        net.train()
        with torch.autocast(device, torch.bfloat16, enabled=device == "cuda"):
            logits = net(pictures)
        loss = loss_of(logits, plan, robust=True)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 2.0)
        # A step without a finite gradient is left out.
        for p in net.parameters():
            p.grad.nan_to_num_(0, 0, 0)
        optimiser.step()
        step, lines = step + 1, lines + len(pictures)
        keep = min(KEEP, step / (step + 20))
        with torch.no_grad():
            for kept, new in zip(mean.state_dict().values(), net.state_dict().values()):
                kept.lerp_(new, 1 - keep) if kept.is_floating_point() else kept.copy_(new)
        if step % 100 == 0:
            say(f"{time.time() - start:6.1f} s  step {step:6}  lines {lines:8}  loss {loss.item():.4f}  rate {rate:.5f}")
        if (time.time() - start) / a.seconds > quarter / 4:
            quarter += 1
            say(json.dumps(validation.run(mean, 1)))
            keep_all()
    keep_all()
    say(f"{step} steps, {lines} lines, {spent + time.time() - begun:.0f} s of training")
    say(json.dumps(validation.run(mean), indent=1))
    temperature, tried = validation.temperature(mean)
    say(f"temperature {temperature}; losses by temperature {json.dumps({k: round(v, 4) for k, v in tried.items()})}")
    say(f"{time.time() - start:.0f} s in all")


if __name__ == "__main__":
    main()
