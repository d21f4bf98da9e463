"""EasyOCR beside a torch without torchvision's compiled operators (it uses none of them).

PyPI's torchvision does not load beside the CPU build of torch: its operators are not there, and
describing them fails. They are declared here, before it is imported, so that it loads.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

OPERATORS = (
    "nms", "qnms", "roi_align", "_roi_align_backward", "roi_pool", "_roi_pool_backward",
    "ps_roi_align", "_ps_roi_align_backward", "ps_roi_pool", "_ps_roi_pool_backward",
    "deform_conv2d", "_deform_conv2d_backward",
)  # fmt: skip


def reader() -> Any:
    """An English reader that downloads nothing."""
    import torch

    library = torch.library.Library("torchvision", "FRAGMENT")
    for operator in OPERATORS:
        library.define(f"{operator}(Tensor picture) -> Tensor")
    import easyocr  # type: ignore[import-not-found]
    import easyocr_en_models  # type: ignore[import-not-found]

    reader.library = library  # type: ignore[attr-defined]  # declared as long as it is held
    models = Path(easyocr_en_models.__file__).parent / "models"
    return easyocr.Reader(
        ["en"],
        gpu=False,
        model_storage_directory=str(models),
        download_enabled=False,
        verbose=False,
    )
