/** The few functions of jstat 1.9.6 that lagreel uses; the package ships no types. */
declare module 'jstat' {
  interface Continuous {
    cdf(x: number, ...parameters: number[]): number;
    inv(p: number, ...parameters: number[]): number;
    pdf(x: number, ...parameters: number[]): number;
  }
  interface Discrete {
    cdf(k: number, n: number, p: number): number;
    pdf(k: number, n: number, p: number): number;
  }
  interface Jstat {
    readonly studentt: Continuous;
    readonly chisquare: Continuous;
    readonly beta: Continuous;
    readonly binomial: Discrete;
    gammaln(x: number): number;
  }
  const jstat: { readonly jStat: Jstat };
  // biome-ignore lint/style/noDefaultExport: a CommonJS package seen from ESM
  export default jstat;
}
