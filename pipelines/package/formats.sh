# Read by libraries.sh and windows-libraries.sh: what the video libraries of a release can read and
# write, as FFmpeg's configure wants it told. What phones, cameras, messengers and screen recorders
# write; src/clip/source.rs lists the containers.
demuxers=mov,matroska,avi,mpegts,mpegps,asf
video=h264,hevc,vp8,vp9,libdav1d,mpeg4,h263,mpeg1video,mpeg2video,mjpeg,msmpeg4v1,msmpeg4v2,msmpeg4v3,wmv1,wmv2,wmv3,vc1
# Cameras and editors: intermediate formats.
video+=,prores,dnxhd,cfhd,dvvideo,rawvideo
sound=aac,aac_latm,mp1float,mp2float,mp3float,opus,vorbis,flac,alac,ac3,eac3,amrnb,amrwb,wmav1,wmav2,wmapro
sound+=,pcm_s16le,pcm_s16be,pcm_s24le,pcm_s24be,pcm_s32le,pcm_s32be,pcm_f32le,pcm_f32be,pcm_f64le,pcm_f64be
sound+=,pcm_u8,pcm_s8,pcm_alaw,pcm_mulaw,pcm_bluray,adpcm_ms,adpcm_ima_wav,adpcm_ima_qt
parsers=h264,hevc,vp8,vp9,av1,mpeg4video,h263,mpegvideo,mjpeg,vc1,dnxhd,dvaudio
parsers+=,aac,aac_latm,mpegaudio,opus,vorbis,flac,ac3
formats=(--enable-shared --disable-static --disable-autodetect --disable-everything --disable-programs --disable-doc
  --disable-network --disable-avdevice --disable-avfilter --disable-debug
  --enable-libdav1d --enable-libopenh264 --pkg-config-flags=--static
  --enable-protocol=file --enable-muxer=mp4 --enable-encoder=libopenh264
  --enable-demuxer="$demuxers" --enable-decoder="$video,$sound" --enable-parser="$parsers")
