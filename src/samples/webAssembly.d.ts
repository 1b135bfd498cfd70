/** The part of the standard WebAssembly interface that lagreel uses: neither TypeScript's ES library nor Node's types have it. */
declare namespace WebAssembly {
  class Module {
    constructor(bytes: Uint8Array);
  }
  class Instance {
    constructor(module: Module);
    readonly exports: Readonly<Record<string, unknown>>;
  }
  class Memory {
    readonly buffer: ArrayBuffer;
    grow(pages: number): number;
  }
}
