import { describe, expect, it } from 'vitest';
import { parseFfmpegReport } from '../../src/clip/ffmpegReport.js';

/** As printed by the builds named, shortened; streams of later files are composed from lines of each build. */
const FROM_4_1 = `Input #0, mov,mp4,m4a,3gp,3g2,mj2, from 'file:/tmp/clip, with 10x20 in its name.mp4':
  Metadata:
    major_brand     : isom
    com.android.capture.fps: 240.000000
  Duration: 00:00:05.00, start: 0.000000, bitrate: 50602 kb/s
    Stream #0:0(eng): Audio: aac (LC) (mp4a / 0x6134706D), 48000 Hz, stereo, fltp, 189 kb/s (default)
    Stream #0:1(und): Video: h264 (High) (avc1 / 0x31637661), yuvj420p(pc, bt470bg/unknown/smpte170m), 1920x1080 [SAR 1:1 DAR 16:9], 50587 kb/s, SAR 1:1 DAR 16:9, 29.97 fps, 30 tbr, 90k tbn, 480 tbc (default)
    Metadata:
      rotate          : 90
      handler_name    : VideoHandler
    Side data:
      displaymatrix: rotation of -90.00 degrees
At least one output file must be specified
`;
const FROM_5_1 = `Input #0, mov,mp4,m4a,3gp,3g2,mj2, from 'file:/tmp/x.mov':
  Duration: 00:00:00.50, start: 0.000000, bitrate: 120 kb/s
  Stream #0:0[0x1](und): Video: hevc (Main 10) (hvc1 / 0x31637668), yuv420p10le(tv, bt2020nc/bt2020/arib-std-b67, progressive), 256x64, 15 kb/s, 239.76 fps, 240 tbr, 2400 tbn (default)
    Side data:
      displaymatrix: rotation of 180.00 degrees
  Stream #0:1[0x0]: Video: png, rgb24(pc), 64x64, 90k tbr, 90k tbn (attached pic)
`;
const FROM_9 = FROM_5_1.replace('displaymatrix: rotation of 180', 'Display Matrix: rotation of -90');

describe('reading the report of FFmpeg', () => {
  it('of the 4.1 kind', () => {
    expect(parseFfmpegReport(FROM_4_1)).toEqual({
      container: 'mov,mp4,m4a,3gp,3g2,mj2',
      video: {
        codec: 'h264',
        pixelFormat: 'yuvj420p',
        range: 'pc',
        transfer: 'smpte170m',
        interlaced: false,
        widthPx: 1920,
        heightPx: 1080,
        rateHz: 29.97,
        ticksPerSecond: 90_000,
        rotationCcwDeg: -90,
        pixelAspect: [1, 1],
        streamIndex: 1,
      },
      videoStreams: 1,
      hasSound: true,
      soundFirst: true,
      coverPicture: false,
      captureTag: '240.000000',
    });
  });

  it('of the 5.1 kind, without the cover picture', () => {
    const report = parseFfmpegReport(FROM_5_1);
    expect(report).toMatchObject({
      videoStreams: 1,
      hasSound: false,
      soundFirst: false,
      coverPicture: true,
      captureTag: null,
    });
    expect(report.video).toMatchObject({
      codec: 'hevc',
      pixelFormat: 'yuv420p10le',
      range: 'tv',
      transfer: 'arib-std-b67',
      rateHz: 239.76,
      ticksPerSecond: 2400,
      rotationCcwDeg: 180,
    });
  });

  it('tells an unmarked cover picture of old builds from a picture stream', () => {
    const line = '    Stream #0:0: Video: png, rgb24(pc), 64x64 [SAR 1:1 DAR 1:1], 90k tbr, 90k tbn, 90k tbc';
    const video = '    Stream #0:1: Video: mjpeg, yuvj420p(pc), 160x120, 240 fps, 240 tbr, 90k tbn, 90k tbc';
    const report = parseFfmpegReport(`${line}\n${video}`);
    expect(report).toMatchObject({ videoStreams: 1, coverPicture: true });
    expect(report.video).toMatchObject({ codec: 'mjpeg', streamIndex: 1 });
  });

  it('of the 9 kind', () => {
    expect(parseFfmpegReport(FROM_9).video?.rotationCcwDeg).toBe(-90);
  });

  it.each([
    ['yuv420p', null, null, false],
    ['yuv420p(tv)', 'tv', null, false],
    ['yuv420p(bt709)', null, 'bt709', false],
    ['yuv420p(pc, bt709, progressive)', 'pc', 'bt709', false],
    ['yuv420p(tv, unknown/bt709/iec61966-2-1, top first)', 'tv', 'iec61966-2-1', true],
    ['yuv420p(progressive)', null, null, false],
  ])('pixel format %s', (format, range, transfer, interlaced) => {
    const line = `  Stream #0:0: Video: h264, ${format}, 64x32, 240 fps, 1k tbn`;
    const { video } = parseFfmpegReport(line);
    expect(video).toMatchObject({
      pixelFormat: 'yuv420p',
      range,
      transfer,
      interlaced,
      widthPx: 64,
      ticksPerSecond: 1000,
    });
  });

  it('of a file that cannot be opened', () => {
    expect(parseFfmpegReport('file:/x.mp4: Invalid data found when processing input\n')).toMatchObject({
      container: null,
      video: null,
      videoStreams: 0,
    });
  });
});
