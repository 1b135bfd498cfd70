/** The library that draws and encodes pictures, loaded with the first picture: most commands draw none. */

/** `sharp`; the same in each call. */
export async function pictureLibrary(): Promise<typeof import('sharp').default> {
  return (await import('sharp')).default;
}
