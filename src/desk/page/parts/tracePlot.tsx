/** The traces of all regions against capture time, one above the other, with every onset and the frame that is shown. */
import { useEffect, useRef } from 'preact/hooks';
import uPlot from 'uplot';
import type { OnsetMark } from '../logic/stepping.js';

/** One line of the plot. */
export interface TraceLine {
  readonly name: string;
  readonly role: string;
  /** Ascending, s on the capture clock; as long as `values`. */
  readonly timesS: Float64Array;
  /** 0 at the lower and 1 at the upper plateau. */
  readonly values: Float32Array;
  /** Mean linear light of the region, 0..1. */
  readonly light: Float32Array;
}

/** What is drawn, and what is reported. */
export interface TracePlotProps {
  readonly line: TraceLine;
  readonly marks: readonly OnsetMark[];
  /** Times that are seen, s. */
  readonly windowS: readonly [number, number];
  /** Capture time of the frame that is shown; null: no such line. */
  readonly atS: number | null;
  readonly heightPx: number;
  /** True for the lowest plot of a pile, which carries the axis. */
  readonly axis: boolean;
  /** Told when a person looks closer. */
  readonly onWindow?: (windowS: readonly [number, number]) => void;
  readonly onTime?: (atS: number) => void;
}

function colour(name: string): string {
  return getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
}

/** Draws the marks of one region: a band for the interval, a line for the onset, dashed for other regions' presses. */
function drawMarks(plot: uPlot, props: TracePlotProps): void {
  const { ctx, bbox } = plot;
  const ratio = uPlot.pxRatio;
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
  ctx.clip();
  const x = (s: number): number => plot.valToPos(s, 'x', true);
  for (const mark of props.marks) {
    const own = mark.region === props.line.name;
    if (!own && mark.kind !== 'press') continue;
    ctx.strokeStyle = colour(mark.kind === 'press' ? 'muted' : mark.kind === 'response' ? 'model' : 'warn');
    if (own && mark.intervalS) {
      ctx.fillStyle = ctx.strokeStyle;
      ctx.globalAlpha = 0.22;
      const left = x(mark.intervalS[0]);
      ctx.fillRect(left, bbox.top, Math.max(ratio, x(mark.intervalS[1]) - left), bbox.height);
      ctx.globalAlpha = 1;
    }
    ctx.lineWidth = ratio * (own ? 1.5 : 1);
    ctx.setLineDash(own ? [] : [3 * ratio, 4 * ratio]);
    ctx.beginPath();
    ctx.moveTo(x(mark.atS), bbox.top);
    ctx.lineTo(x(mark.atS), bbox.top + bbox.height);
    ctx.stroke();
  }
  if (props.atS !== null) {
    ctx.setLineDash([]);
    ctx.strokeStyle = colour('ink');
    ctx.lineWidth = 2 * ratio;
    ctx.beginPath();
    ctx.moveTo(x(props.atS), bbox.top);
    ctx.lineTo(x(props.atS), bbox.top + bbox.height);
    ctx.stroke();
  }
  ctx.restore();
}

/** See the head of this file. Drag across to look closer, double-click for the whole, click to go to the frame. */
export function TracePlot(props: TracePlotProps) {
  const box = useRef<HTMLDivElement>(null);
  const plot = useRef<uPlot | null>(null);
  const now = useRef(props);
  now.current = props;
  const { line, windowS, heightPx, axis } = props;

  useEffect(() => {
    const target = box.current!;
    const ink = (): string => colour('muted');
    const hair = (): string => colour('line');
    const made = new uPlot(
      {
        width: Math.max(200, target.clientWidth),
        height: heightPx,
        legend: { show: false },
        // The same on every plot of a pile, so that one time lies above the other.
        padding: [6, 14, axis ? 0 : 6, 0],
        cursor: { drag: { x: true, y: false, setScale: false }, points: { show: false }, y: false },
        scales: {
          x: { time: false, auto: false, min: now.current.windowS[0], max: now.current.windowS[1] },
          y: { range: (_, low, high) => [Math.min(-0.08, low ?? 0), Math.max(1.12, high ?? 1)] },
        },
        axes: [
          {
            show: axis,
            stroke: ink,
            grid: { stroke: hair, width: 1 },
            ticks: { stroke: hair, width: 1 },
            size: 30,
            font: '12px system-ui, sans-serif',
            values: (_, ticks) => ticks.map((t) => `${Number(t.toFixed(4))} s`),
          },
          {
            stroke: ink,
            grid: { stroke: hair, width: 1 },
            ticks: { show: false },
            size: 34,
            gap: 4,
            font: '12px system-ui, sans-serif',
            splits: () => [0, 1],
          },
        ],
        series: [
          {},
          {
            stroke: () => colour('accent'),
            width: 1.5,
            points: {
              show: (u) => u.scales.x!.max! - u.scales.x!.min! < 0.4,
              size: 5,
              fill: () => colour('card'),
            },
          },
        ],
        hooks: {
          draw: [(u) => drawMarks(u, now.current)],
          setSelect: [
            (u) => {
              if (u.select.width < 4) return;
              const from = u.posToVal(u.select.left, 'x');
              const to = u.posToVal(u.select.left + u.select.width, 'x');
              u.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
              now.current.onWindow?.([from, to]);
            },
          ],
        },
      },
      [line.timesS, line.values] as unknown as uPlot.AlignedData,
      target,
    );
    plot.current = made;
    let downX = 0;
    made.over.addEventListener('pointerdown', (event) => {
      downX = event.clientX;
    });
    made.over.addEventListener('click', (event) => {
      if (Math.abs(event.clientX - downX) > 3) return;
      const rect = made.over.getBoundingClientRect();
      now.current.onTime?.(made.posToVal(event.clientX - rect.left, 'x'));
    });
    made.over.addEventListener('dblclick', () => {
      const { timesS } = now.current.line;
      now.current.onWindow?.([timesS[0] ?? 0, timesS.at(-1) ?? 1]);
    });
    const watch = new ResizeObserver(() => {
      const width = target.clientWidth;
      if (width > 0 && width !== made.width) made.setSize({ width, height: heightPx });
    });
    watch.observe(target);
    const scheme = matchMedia('(prefers-color-scheme: dark)');
    const repaint = (): void => made.redraw(false);
    scheme.addEventListener('change', repaint);
    return () => {
      watch.disconnect();
      scheme.removeEventListener('change', repaint);
      made.destroy();
      plot.current = null;
    };
  }, [line, heightPx, axis]);

  useEffect(() => {
    const [min, max] = windowS;
    if (max > min) plot.current?.setScale('x', { min, max });
  }, [windowS[0], windowS[1]]);
  useEffect(() => plot.current?.redraw(false), [props.atS, props.marks]);

  const own = props.marks.filter((m) => m.region === line.name).length;
  return (
    <div class="trace">
      <span class={`trace-name ${line.role}`}>{line.name}</span>
      <div
        ref={box}
        class="trace-plot"
        role="img"
        aria-label={`Trace of ${line.name}, ${windowS[0].toFixed(3)} to ${windowS[1].toFixed(3)} s, ${own} onsets marked in the clip`}
      />
    </div>
  );
}

/** One plot a line, one above the other; the lowest is taller and carries the axis. */
export function TracePlots({
  lines,
  heightPx,
  lastHeightPx,
  ...rest
}: Omit<TracePlotProps, 'line' | 'axis'> & {
  readonly lines: readonly TraceLine[];
  readonly lastHeightPx: number;
}) {
  return (
    <>
      {lines.map((line, i) => {
        const isLast = i === lines.length - 1;
        return (
          <TracePlot
            key={line.name}
            line={line}
            heightPx={isLast ? lastHeightPx : heightPx}
            axis={isLast}
            {...rest}
          />
        );
      })}
    </>
  );
}
