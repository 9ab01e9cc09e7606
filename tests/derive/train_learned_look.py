"""Train the learned look on random stamps and write its weights.

    python tests/derive/train_learned_look.py --out FOLDER --seconds 480

Needs PyTorch and an accelerator (eight minutes on one data-centre card with 15 processes that draw); the program
itself does not. FOLDER/learned_look.npz holds the folded weights, which export_learned_look.py turns into the file
that is shipped. The seed fixes the drawings; the order in which processes deliver them is not fixed.
"""

import argparse
import sys
import threading
import time
from pathlib import Path

import cv2
import numpy as np
import torch
import torch.nn.functional as F
from torch import nn

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from drawings.endless import draw_patches

from blendkit.art.learned import find_darkness

WIDTHS = 32, 48, 72, 112, 160, 176
"""Channels at half the picture's scale and at each halving below."""

FULL = 12, 16
"""Channels at full scale, going in and coming out."""

OUTPUTS = "border", "figure", "distance", "texture", "front"
BATCH, POOL = 32, 6144


class Pair(nn.Sequential):
    """Two convolutions of 3 by 3."""

    def __init__(self, into: int, out: int) -> None:
        super().__init__(
            nn.Conv2d(into, out, 3, 1, 1, bias=False), nn.BatchNorm2d(out), nn.ReLU(inplace=True),
            nn.Conv2d(out, out, 3, 1, 1, bias=False), nn.BatchNorm2d(out), nn.ReLU(inplace=True),
        )  # fmt: skip


class Single(nn.Sequential):
    """One convolution of 3 by 3."""

    def __init__(self, into: int, out: int, step: int = 1) -> None:
        super().__init__(
            nn.Conv2d(into, out, 3, step, 1, bias=False), nn.BatchNorm2d(out), nn.ReLU(inplace=True)
        )


class Look(nn.Module):
    """Down to 1/64 and up again, most of it at half the picture's scale and below."""

    def __init__(self) -> None:
        super().__init__()
        self.stem = Single(1, FULL[0])
        self.enter = Single(FULL[0], WIDTHS[0], 2)
        self.down = nn.ModuleList(
            [Pair(max(1, a), b) for a, b in zip((WIDTHS[0], *WIDTHS[:-1]), WIDTHS, strict=True)]
        )
        self.up = nn.ModuleList([Pair(a + b, b) for a, b in zip(WIDTHS[:0:-1], WIDTHS[-2::-1], strict=True)])
        self.leave = Single(WIDTHS[0] + FULL[0], FULL[1])
        self.last = nn.Conv2d(FULL[1], len(OUTPUTS), 1)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        """Logits (n, 5, h, w) of darkness (n, 1, h, w); sides divisible by 64."""
        full = self.stem(x)
        x = self.enter(full)
        kept = []
        for k, step in enumerate(self.down):
            x = step(x if k == 0 else F.max_pool2d(x, 2))
            kept.append(x)
        for step, skip in zip(self.up, kept[-2::-1], strict=True):
            x = step(torch.cat([F.interpolate(x, scale_factor=2.0), skip], 1))
        return self.last(self.leave(torch.cat([F.interpolate(x, scale_factor=2.0), full], 1)))


def sample(seed: int) -> list[np.ndarray]:
    """Patches as uint8 (6, h, w): darkness, border, figure, distance, texture, front (0, 1 behind, 2 in front)."""
    found = []
    for patch in draw_patches(seed):
        parts = patch.parts
        edge = np.zeros(parts.shape, np.uint8)
        for a, b in ((np.s_[:, :-1], np.s_[:, 1:]), (np.s_[:-1], np.s_[1:])):
            differs = parts[a] != parts[b]
            edge[a] |= differs
            edge[b] |= differs
        distance = np.clip(cv2.distanceTransform(1 - edge, cv2.DIST_L2, 5) / 16, 0, 1)
        border = cv2.dilate(edge, np.ones((3, 3), np.uint8))
        front = np.where(patch.front == 0, 0, np.where(patch.front > 0, 2, 1))
        layers = [find_darkness(patch.grey) * 255, border, patch.figure, distance * 255, patch.texture, front]
        found.append(np.stack([np.asarray(layer, np.uint8) for layer in layers]))
    return found


class Drawings(torch.utils.data.IterableDataset):
    """Patches without end; every worker draws its own."""

    def __init__(self, seed: int) -> None:
        self.seed = seed

    def __iter__(self):
        cv2.setNumThreads(0)
        info = torch.utils.data.get_worker_info()
        seed = self.seed * 10_000_000 + (info.id if info else 0)
        while True:
            try:
                yield from sample(seed)
            except Exception as fault:  # a drawing that fails is left out, and said
                print("drawing", seed, "failed:", repr(fault), flush=True)
            seed += info.num_workers if info else 1


def loss_of(logits: torch.Tensor, target: torch.Tensor) -> torch.Tensor:
    """Cross entropy and Dice for border and figure; the rest weighs less."""
    border, figure, texture = (target[:, k].float() for k in (1, 2, 4))
    distance, front = target[:, 3].float() / 255, target[:, 5]
    total = logits.new_zeros(())
    for k, true, weight in ((0, border, 3.0), (1, figure, 1.0)):
        z = logits[:, k]
        w = 1 + (weight - 1) * true
        total = total + (w * F.binary_cross_entropy_with_logits(z, true, reduction="none")).mean()
        p = z.sigmoid()
        total = total + 0.5 * (1 - (2 * (p * true).sum() + 1) / (p.sum() + true.sum() + 1))
    total = total + (logits[:, 2].sigmoid() - distance).abs().mean()
    total = total + 0.3 * F.binary_cross_entropy_with_logits(logits[:, 3], texture)
    known = (front > 0).float()
    side = F.binary_cross_entropy_with_logits(logits[:, 4], (front == 2).float(), reduction="none")
    return total + 0.5 * (side * known).sum() / (known.sum() + 1)


def fold(model: Look) -> dict[str, np.ndarray]:
    """Weights with each normalisation folded into the convolution before it, in order of use."""
    out: dict[str, np.ndarray] = {}
    layers = [m for m in model.modules() if isinstance(m, nn.Conv2d | nn.BatchNorm2d)]
    k = 0
    for n, layer in enumerate(layers):
        if isinstance(layer, nn.BatchNorm2d):
            continue
        w = layer.weight.detach().double()
        b = layer.bias.detach().double() if layer.bias is not None else w.new_zeros(len(w))
        if n + 1 < len(layers) and isinstance(norm := layers[n + 1], nn.BatchNorm2d):
            times = norm.weight.double() / (norm.running_var.double() + norm.eps).sqrt()
            w, b = (
                w * times[:, None, None, None],
                norm.bias.double() + (b - norm.running_mean.double()) * times,
            )
        out[f"w{k}"], out[f"b{k}"] = (v.detach().cpu().numpy().astype(np.float32) for v in (w, b))
        k += 1
    return out


def main() -> None:
    """Train by the clock and write the weights."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--seconds", type=float, default=480)
    parser.add_argument("--workers", type=int, default=15)
    parser.add_argument("--seed", type=int, default=13)
    parser.add_argument("--resume", type=Path, help="weights as state.pt of an earlier training")
    parser.add_argument("--rate", type=float, default=3e-3)
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    torch.manual_seed(args.seed)
    torch.backends.cudnn.benchmark = True
    device = "cuda" if torch.cuda.is_available() else "cpu"
    model = Look().to(device, memory_format=torch.channels_last)
    if args.resume:
        model.load_state_dict(torch.load(args.resume, map_location=device))
    print(sum(p.numel() for p in model.parameters()), "weights", flush=True)
    mean = {k: v.clone() for k, v in model.state_dict().items()}
    pool = torch.empty((POOL, 6, 512, 512), dtype=torch.uint8, device=device)
    filled, drawn = 0, 0
    start = time.time()
    loader = torch.utils.data.DataLoader(Drawings(args.seed), 16, num_workers=args.workers, prefetch_factor=4)

    def fill() -> None:
        nonlocal filled, drawn
        for batch in loader:
            at = [(drawn + k) % POOL for k in range(len(batch))]
            pool[at] = batch.to(device)
            drawn += len(batch)
            filled = min(POOL, drawn)
            if time.time() - start > args.seconds:
                return

    threading.Thread(target=fill, daemon=True).start()
    while filled < 256:
        time.sleep(0.2)
    optimiser = torch.optim.AdamW(model.parameters(), lr=args.rate, weight_decay=0.02)
    step, running, told = 0, 0.0, time.time()
    while (share := (time.time() - start) / args.seconds) < 1:
        rate = args.rate * min(1.0, step / 200) * (0.5 + 0.5 * np.cos(np.pi * share))
        for group in optimiser.param_groups:
            group["lr"] = rate
        batch = pool[torch.randint(0, filled, (BATCH,), device=device)]
        batch = torch.rot90(batch, int(torch.randint(4, ())), (2, 3))
        if torch.rand(()) < 0.5:
            batch = batch.flip(3)
        dark = batch[:, :1].float() / 255
        dark = (dark * (0.8 + 0.4 * torch.rand(BATCH, 1, 1, 1, device=device))).clamp(0, 1)
        dark = dark.contiguous(memory_format=torch.channels_last)
        with torch.autocast(device, dtype=torch.bfloat16):
            logits = model(dark)
        loss = loss_of(logits.float(), batch)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(model.parameters(), 1.0)
        optimiser.step()
        step += 1
        decay = min(0.998, step / (step + 20))
        with torch.no_grad():
            now = model.state_dict()
            floats = [k for k in mean if mean[k].is_floating_point()]
            torch._foreach_lerp_([mean[k] for k in floats], [now[k] for k in floats], 1 - decay)
        running += 0.02 * (float(loss) - running) if step > 1 and step % 10 == 0 else 0.0
        if step == 1:
            running = float(loss)
        if time.time() - told > 30:
            told = time.time()
            print(
                f"{told - start:.0f} s, step {step}, drawn {drawn}, loss {running:.4f} now {float(loss):.4f}",
                flush=True,
            )
            save(args.out, mean)
    save(args.out, mean)
    print("done", step, "steps,", drawn, "drawings", flush=True)
    sys.stdout.flush()
    __import__("os")._exit(0)


def save(folder: Path, mean: dict[str, torch.Tensor]) -> None:
    """Write the averaged weights, as they are and folded."""
    torch.save({k: v.cpu() for k, v in mean.items()}, folder / "state.pt")
    model = Look()
    model.load_state_dict({k: v.cpu() for k, v in mean.items()})
    model.eval()
    np.savez(folder / "learned_look.npz", **fold(model))
    x = torch.zeros(1, 1, 64, 64)
    x[..., 20:40, 30:33] = 1
    with torch.no_grad():
        np.save(folder / "check.npy", model(x).numpy())


if __name__ == "__main__":
    main()
