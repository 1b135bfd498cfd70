/** Names a file by its first bytes, so that a wrong file gets a clear sentence instead of a decoder's message. */

/** What the first bytes are: a container that lagreel reads, or a name of what they are instead. */
export type FirstBytes =
  | { readonly kind: 'mp4' | 'matroska' }
  | { readonly kind: 'other'; readonly what: string };

const MP4_BOXES = new Set(['ftyp', 'moov', 'mdat', 'wide', 'free', 'skip', 'pnot', 'styp', 'moof', 'sidx']);
const STILL_BRANDS = new Set(['heic', 'heix', 'mif1', 'avif', 'msf1']);

/** Signatures of what people hand in by mistake; text is the bytes as Latin-1. */
const SIGNATURES: readonly (readonly [pattern: RegExp, what: string])[] = [
  [/^\xff\xd8\xff/, 'a JPEG still picture, not a video'],
  [/^\x89PNG\r\n/, 'a PNG still picture, not a video'],
  [/^GIF8/, 'a GIF picture, not a camera clip'],
  [/^RIFF[^]{4}WEBP/, 'a WebP still picture, not a video'],
  [/^(II\*\0|MM\0\*)/, 'a TIFF or raw still picture, not a video'],
  [/^BM[^]{4}\0\0\0\0/, 'a BMP still picture, not a video'],
  [/^RIFF[^]{4}AVI /, 'an AVI file; convert it without re-encoding: ffmpeg -i FILE -c copy FILE.mov'],
  [/^(RIFF[^]{4}WAVE|ID3|OggS|fLaC|\xff[\xfb\xf3\xf2])/, 'a sound file, not a video'],
  [/^\0\0\0?\x01/, 'a raw video stream without timestamps; lagreel needs the MP4 or MOV file of the camera'],
  [
    /^G[^]{3}/,
    'perhaps an MPEG transport stream; convert it without re-encoding: ffmpeg -i FILE -c copy FILE.mov',
  ],
  [/^0&\xb2u/, 'a WMV or ASF file; lagreel reads MP4, MOV, MKV and WebM'],
  [/^FLV\x01/, 'an FLV file; lagreel reads MP4, MOV, MKV and WebM'],
  [/^PK\x03\x04/, 'a zip archive; unpack it and give the clip inside'],
  [/^(\x1f\x8b|7z\xbc\xaf|Rar!)/, 'a compressed archive; unpack it and give the clip inside'],
  [/^%PDF/, 'a PDF document, not a video'],
  [/^#EXTM3U/, 'a playlist that names other files; give the clip itself'],
  [/^(ffconcat|v=0)/, 'a list that names other files; give the clip itself'],
  [/^(\xef\xbb\xbf)?\s*<(\?xml|svg|!DOCTYPE|html|MPD)/i, 'a text file with markup, not a video'],
];

/** Names the content by its first 64 bytes. */
export function nameFirstBytes(bytes: Uint8Array): FirstBytes {
  const text = Buffer.from(bytes).toString('latin1');
  if (text.startsWith('\x1aE\xdf\xa3')) return { kind: 'matroska' };
  if (MP4_BOXES.has(text.slice(4, 8))) {
    return text.startsWith('ftyp', 4) && STILL_BRANDS.has(text.slice(8, 12))
      ? { kind: 'other', what: 'a HEIC or AVIF still picture, not a video' }
      : { kind: 'mp4' };
  }
  const what = SIGNATURES.find(([pattern]) => pattern.test(text))?.[1];
  // An MPEG transport stream starts with a letter of plain text, so text is asked first.
  const isText =
    bytes.length > 0 && bytes.every((byte) => byte >= 32 || byte === 9 || byte === 10 || byte === 13);
  if (what !== undefined && !(isText && text.startsWith('G') && !text.startsWith('GIF8'))) {
    return { kind: 'other', what };
  }
  return {
    kind: 'other',
    what: isText ? 'a text file, not a video' : 'no video that lagreel knows (MP4, MOV, MKV, WebM)',
  };
}
