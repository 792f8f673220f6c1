"""Rasters with masks and an alpha band, by rasterio 1.4.4 on GDAL 3.10.3: python make.py FOLDER"""
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
print(rasterio.__version__, rasterio.__gdal_version__)
