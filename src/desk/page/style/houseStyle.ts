/** The house's colours and the marks of its plots, from where the report takes them too. */
import { darkPalette, lightPalette, paletteCss } from '../../../report/palette.js';
import { plotStyle } from '../../../report/plots/plotSheet.js';

/** Lays colours and plot marks under the page's own style sheet. */
export function adoptHouseStyle(): void {
  const sheet = new CSSStyleSheet();
  sheet.replaceSync(
    `:root{${paletteCss(lightPalette)}}@media (prefers-color-scheme:dark){:root{${paletteCss(darkPalette)}}}${plotStyle}`,
  );
  document.adoptedStyleSheets = [sheet];
}
