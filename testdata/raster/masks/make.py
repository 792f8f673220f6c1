"""Rasters with masks and an alpha band, by rasterio 1.4.4 on GDAL 3.10.3: python make.py FOLDER"""
import os
import sys
import numpy
import rasterio
from rasterio.transform import from_origin
out = sys.argv[1]
# 20 x 12 values of 10 m; the eastern 8 columns are masked out
values = (numpy.arange(12 * 20).reshape(12, 20) % 50 + 10).astype('uint8')
mask = numpy.full((12, 20), 255, 'uint8'); mask[:, 12:] = 0
base = dict(driver='GTiff', width=20, height=12, crs='EPSG:25832', transform=from_origin(500000, 6000120, 10, 10), dtype='uint8')
with rasterio.Env(GDAL_TIFF_INTERNAL_MASK=True):
    with rasterio.open(f'{out}/mask_u8.tif', 'w', count=1, **base) as f:
        f.write(values, 1); f.write_mask(mask)
with rasterio.Env(GDAL_TIFF_INTERNAL_MASK=True):
    with rasterio.open(f'{out}/mask_deflate_tiled_i16.tif', 'w', count=1, compress='deflate', tiled=True, blockxsize=16, blockysize=16, **{**base, 'dtype': 'int16'}) as f:
        f.write(values.astype('int16'), 1); f.write_mask(mask)
with rasterio.open(f'{out}/alpha_u8.tif', 'w', count=2, **base) as f:
    f.write(values, 1); f.write(mask, 2)
    f.colorinterp = [rasterio.enums.ColorInterp.gray, rasterio.enums.ColorInterp.alpha]
with rasterio.Env(GDAL_TIFF_INTERNAL_MASK=False):
    with rasterio.open(f'{out}/beside_mask_u8.tif', 'w', count=1, **base) as f:
        f.write(values, 1); f.write_mask(mask)
# The same in other ways of packing. GDAL packs an internal mask with DEFLATE whatever the raster has; a mask in a file
# beside it may be packed in any way.
tiles = dict(tiled=True, blockxsize=16, blockysize=16)
for name, dtype, how in [('mask_lzw_i16.tif', 'int16', dict(compress='lzw')),
                         ('mask_zstd_tiled_f32.tif', 'float32', dict(compress='zstd', **tiles))]:
    with rasterio.Env(GDAL_TIFF_INTERNAL_MASK=True):
        with rasterio.open(f'{out}/{name}', 'w', count=1, **{**base, 'dtype': dtype}, **how) as f:
            f.write(values.astype(dtype), 1); f.write_mask(mask)
for name, dtype, how in [('alpha_lzw_u8.tif', 'uint8', dict(compress='lzw')),
                         ('alpha_zstd_tiled_u16.tif', 'uint16', dict(compress='zstd', **tiles))]:
    with rasterio.open(f'{out}/{name}', 'w', count=2, **{**base, 'dtype': dtype}, **how) as f:
        f.write(values.astype(dtype), 1); f.write(mask.astype(dtype), 2)
        f.colorinterp = [rasterio.enums.ColorInterp.gray, rasterio.enums.ColorInterp.alpha]
for name, how in [('beside_mask_lzw_u8.tif', dict(compress='lzw')),
                  ('beside_mask_zstd_u8.tif', dict(compress='zstd', nbits=1, **tiles)),
                  ('beside_mask_packbits_u8.tif', dict(compress='packbits', nbits=1))]:
    with rasterio.open(f'{out}/{name}', 'w', count=1, compress=how['compress'], **base) as f:
        f.write(values, 1)
    with rasterio.open(f'{out}/{name}.msk', 'w', driver='GTiff', width=20, height=12, count=1, dtype='uint8', **how) as f:
        f.write(mask if 'nbits' not in how else mask // 255, 1)
        f.update_tags(INTERNAL_MASK_FLAGS_1='2')
# GDAL itself takes each of them for the mask that was meant.
for name in sorted(n for n in os.listdir(out) if n.endswith('.tif')):
    with rasterio.open(f'{out}/{name}') as f:
        assert ((f.dataset_mask() != 0) == (mask != 0)).all(), name
print(rasterio.__version__, rasterio.__gdal_version__)
