/** Names a file by its first bytes, so that a wrong file gets a clear sentence instead of a decoder's message. */

/** What the first bytes are: a container that lagreel reads, or a name of what they are instead. */
export type FirstBytes =
  | { readonly kind: 'mp4' | 'matroska' }
  | { readonly kind: 'other'; readonly what: string };

const MP4_BOXES = new Set(['ftyp', 'moov', 'mdat', 'wide', 'free', 'skip', 'pnot', 'styp', 'moof', 'sidx']);
const STILL_BRANDS = new Set(['heic', 'heix', 'mif1', 'avif', 'msf1']);

/** Signatures of what people hand in by mistake, on the first bytes written as hexadecimal digits. */
const SIGNATURES: readonly (readonly [hex: RegExp, what: string])[] = [
  [/^ffd8ff/, 'a JPEG still picture, not a video'],
  [/^89504e47/, 'a PNG still picture, not a video'],
  [/^474946383[79]61/, 'a GIF picture, not a camera clip'],
  [/^52494646.{8}57454250/, 'a WebP still picture, not a video'],
  [/^(49492a00|4d4d002a)/, 'a TIFF or raw still picture, not a video'],
  [/^424d.{8}00000000/, 'a BMP still picture, not a video'],
  [/^52494646.{8}41564920/, 'an AVI file; convert it without re-encoding: ffmpeg -i FILE -c copy FILE.mov'],
  [/^(52494646.{8}57415645|494433|4f676753|664c6143|ff(fb|f3|f2))/, 'a sound file, not a video'],
  [/^0000(00)?01/, 'a raw video stream without timestamps; give the MP4 or MOV file of the camera'],
  [/^3026b275/, 'a WMV or ASF file; lagreel reads MP4, MOV, MKV and WebM'],
  [/^464c5601/, 'an FLV file; lagreel reads MP4, MOV, MKV and WebM'],
  [/^504b0304/, 'a zip archive; unpack it and give the clip inside'],
  [/^(1f8b|377abcaf|52617221)/, 'a compressed archive; unpack it and give the clip inside'],
  [/^25504446/, 'a PDF document, not a video'],
];

/** Texts that FFmpeg would follow to other files. */
const TEXTS: readonly (readonly [start: RegExp, what: string])[] = [
  [/^#EXTM3U/, 'a playlist that names other files; give the clip itself'],
  [/^(ffconcat|v=0)/, 'a list that names other files; give the clip itself'],
  [/^\s*<(\?xml|svg|!DOCTYPE|html|MPD)/i, 'a text file with markup, not a video'],
];

/** Names the content by its first 64 bytes. */
export function nameFirstBytes(bytes: Uint8Array): FirstBytes {
  const buffer = Buffer.from(bytes);
  const hex = buffer.toString('hex');
  if (hex.startsWith('1a45dfa3')) return { kind: 'matroska' };
  if (MP4_BOXES.has(buffer.toString('latin1', 4, 8))) {
    return buffer.toString('latin1', 4, 8) === 'ftyp' && STILL_BRANDS.has(buffer.toString('latin1', 8, 12))
      ? { kind: 'other', what: 'a HEIC or AVIF still picture, not a video' }
      : { kind: 'mp4' };
  }
  const signature = SIGNATURES.find(([pattern]) => pattern.test(hex));
  if (signature !== undefined) return { kind: 'other', what: signature[1] };
  const text = buffer.toString('utf8').replace(/^\ufeff/, '');
  const named = TEXTS.find(([pattern]) => pattern.test(text));
  if (named !== undefined) return { kind: 'other', what: named[1] };
  if (bytes.every((byte) => byte >= 32 || byte === 9 || byte === 10 || byte === 13)) {
    return { kind: 'other', what: 'a text file, not a video' };
  }
  if (bytes[0] === 0x47) {
    const what =
      'perhaps an MPEG transport stream; convert it without re-encoding: ffmpeg -i FILE -c copy FILE.mov';
    return { kind: 'other', what };
  }
  return { kind: 'other', what: 'no video that lagreel knows (MP4, MOV, MKV, WebM)' };
}
