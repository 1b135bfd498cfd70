/** A part of the page that scrolls by itself. */
import type { ComponentChildren } from 'preact';

/** See the head of this file. `label` names it for screen readers. */
export function ScrollBox({ label, children }: { label: string; children: ComponentChildren }) {
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: what scrolls must be reachable by keyboard
    <section class="scroll" tabIndex={0} aria-label={label}>
      {children}
    </section>
  );
}
