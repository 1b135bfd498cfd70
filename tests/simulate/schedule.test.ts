import { describe, expect, it } from 'vitest';
import { randomScene } from '../../src/simulate/randomScene.js';
import type { JitterLaw, Scene } from '../../src/simulate/scene.js';
import { sceneSchedule } from '../../src/simulate/schedule.js';

/** Distance of a time from the display's lattice of frame starts, s. */
function offLattice(scene: Scene, atS: number): number {
  const refreshS = 1 / scene.screen.refreshHz;
  const frames = atS / refreshS - scene.screen.phase;
  return Math.abs(frames - Math.round(frames)) * refreshS;
}

function answered(scene: Scene): { latencyMs: number; waitMs: number; extraMs: number; changeS: number }[] {
  return sceneSchedule(scene)
    .presses.filter((p) => p.status === 'answered')
    .map((p) => ({
      latencyMs: (p.changeS! - p.pressS) * 1000,
      waitMs: p.waitMs!,
      extraMs: p.extraMs!,
      changeS: p.changeS!,
    }));
}

describe('schedule', () => {
  it('is wait + fixed delay + extra, the wait uniform on one refresh', () => {
    const scene = randomScene(3, { presses: 2000 });
    const latencies = answered(scene);
    expect(latencies).toHaveLength(2000);
    const refreshMs = 1000 / scene.screen.refreshHz;
    for (const { latencyMs, waitMs, extraMs, changeS } of latencies) {
      expect(latencyMs).toBeCloseTo(waitMs + scene.latency.fixedDelayMs + extraMs, 6);
      expect(waitMs).toBeGreaterThanOrEqual(-1e-6);
      expect(waitMs).toBeLessThan(refreshMs + 1e-6);
      expect(extraMs).toBe(0);
      expect(offLattice(scene, changeS)).toBeLessThan(1e-9);
    }
    // Kolmogorov-Smirnov distance from the uniform law; 1.63 / sqrt(n) is its 1 % critical value.
    const waits = latencies.map((l) => l.waitMs / refreshMs).sort((a, b) => a - b);
    const distance = Math.max(
      ...waits.map((w, i) => Math.max(Math.abs(w - i / 2000), Math.abs(w - (i + 1) / 2000))),
    );
    expect(distance).toBeLessThan(1.63 / Math.sqrt(2000));
  });

  const laws: readonly JitterLaw[] = [
    { kind: 'gaussian', sdMs: 2 },
    { kind: 'uniform', displayFrames: 2 },
    { kind: 'discrete', displayFrames: 1, probability: 0.25 },
  ];
  it.each(laws)('%o: a locked chain stays on the lattice', (law) => {
    const scene = randomScene(4, { presses: 300, jitter: [law] });
    const refreshMs = 1000 / scene.screen.refreshHz;
    for (const { changeS, extraMs } of answered(scene)) {
      expect(offLattice(scene, changeS)).toBeLessThan(1e-9);
      expect(Math.abs(extraMs / refreshMs - Math.round(extraMs / refreshMs))).toBeLessThan(1e-6);
    }
  });

  it('draws extra display frames with the stated probabilities', () => {
    const count = (law: JitterLaw, frames: number): number => {
      const scene = randomScene(5, { presses: 1500, jitter: [law] });
      const refreshMs = 1000 / scene.screen.refreshHz;
      const all = answered(scene);
      return all.filter((a) => Math.round(a.extraMs / refreshMs) === frames).length / all.length;
    };
    // Four binomial standard deviations at n = 1500.
    const slack = (p: number): number => 4 * Math.sqrt((p * (1 - p)) / 1500);
    for (const frames of [0, 1, 2]) {
      expect(Math.abs(count({ kind: 'uniform', displayFrames: 2 }, frames) - 1 / 3)).toBeLessThan(
        slack(1 / 3),
      );
    }
    const late = count({ kind: 'discrete', displayFrames: 1, probability: 0.25 }, 1);
    expect(Math.abs(late - 0.25)).toBeLessThan(slack(0.25));
  });

  it('a free-running device leaves the lattice by its jitter', () => {
    const scene = randomScene(6, {
      presses: 400,
      jitter: [{ kind: 'gaussian', sdMs: 1.5 }],
      refreshLocked: false,
    });
    const extras = answered(scene).map((a) => a.extraMs);
    const sd = Math.sqrt(extras.reduce((s, x) => s + x * x, 0) / extras.length);
    expect(Math.abs(sd - 1.5)).toBeLessThan((4 * 1.5) / Math.sqrt(2 * 400));
  });

  it('keeps ignored, swallowed and unprompted apart', () => {
    const plain = randomScene(7, { presses: 12 });
    const scene: Scene = {
      ...plain,
      presses: { ...plain.presses, ignored: [2], unpromptedAfter: [4], doubledAt: [6], doubleGapS: 0.05 },
    };
    const { presses, changes } = sceneSchedule(scene);
    expect(presses).toHaveLength(13);
    expect(presses.map((p) => p.status).filter((s) => s !== 'answered')).toEqual(['ignored', 'swallowed']);
    expect(presses[2]!.status).toBe('ignored');
    expect(presses[7]!.status).toBe('swallowed');
    expect(presses[7]!.pressS - presses[6]!.pressS).toBeCloseTo(0.05, 12);
    const unprompted = changes.filter((c) => c.cause === 'unprompted');
    expect(unprompted).toHaveLength(1);
    const after = presses.filter((p) => p.pressS < unprompted[0]!.atS).at(-1)!;
    expect(after.index).toBe(4);
    expect(unprompted[0]!.atS - after.pressS).toBeGreaterThan(0.3);
    expect(presses[5]!.pressS - unprompted[0]!.atS).toBeGreaterThan(0.4);
  });

  it('toggles back and forth, and a flash falls back by itself', () => {
    const toggles = sceneSchedule(randomScene(8, { content: ['toggle'] })).changes;
    expect(toggles).toHaveLength(12);
    expect(toggles.map((c) => c.to)).toEqual([1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0]);
    const flashes = sceneSchedule(randomScene(8)).changes;
    expect(flashes.filter((c) => c.cause === 'return')).toHaveLength(12);
  });
});
