/** The shelf asks for every picture once, reads ahead one by one, and forgets the oldest. */
import { describe, expect, it } from 'vitest';
import { FrameShelf } from '../../src/desk/page/session/frameShelf.js';

/** A shelf that notes what it asked for; frame 13 cannot be read. */
function shelf(frames: number) {
  const asked: number[] = [];
  const signals: AbortSignal[] = [];
  const made = new FrameShelf(async (frame, signal) => {
    asked.push(frame);
    signals.push(signal);
    await Promise.resolve();
    if (frame === 13) throw new Error('unreadable');
    return new Blob([String(frame)]);
  }, frames);
  return { made, asked, signals };
}

describe('frame shelf', () => {
  it('asks once, gives the picture of the frame', async () => {
    const { made, asked } = shelf(100);
    const [one, two] = await Promise.all([made.get(5), made.get(5)]);
    expect(await one.text()).toBe('5');
    expect(two).toBe(one);
    expect(asked).toEqual([5]);
  });
  it('reads ahead in steps, within the clip', async () => {
    const { made, asked } = shelf(100);
    await made.readAhead(70, 10);
    expect(asked).toEqual([80, 90]);
    await made.readAhead(2, -1);
    expect(asked).toEqual([80, 90, 1, 0]);
  });
  it('a newer reading ahead ends an older one', async () => {
    const { made, asked } = shelf(100);
    const older = made.readAhead(10, 1);
    await made.readAhead(50, 1);
    await older;
    expect(asked.filter((frame) => frame < 50)).toEqual([11]);
    expect(asked.filter((frame) => frame > 50)).toEqual([51, 52, 53, 54]);
  });
  it('a picture that failed is asked for again', async () => {
    const { made, asked } = shelf(100);
    await expect(made.get(13)).rejects.toThrow('unreadable');
    await expect(made.get(13)).rejects.toThrow('unreadable');
    expect(asked).toEqual([13, 13]);
  });
  it('keeps a bounded number, the latest used', async () => {
    const { made, asked } = shelf(1000);
    for (let frame = 100; frame < 300; frame++) {
      await made.get(frame);
      await made.get(100);
    }
    await made.get(101);
    expect(asked.filter((frame) => frame === 100)).toHaveLength(1);
    expect(asked.filter((frame) => frame === 101)).toHaveLength(2);
  });
  it('closing stops what is under way', () => {
    const { made, signals } = shelf(100);
    void made.get(1);
    made.close();
    expect(signals.map((s) => s.aborted)).toEqual([true]);
  });
});
