"""Products and stock: what the shop pours besides pigments, its lots, and every movement of them."""

from django.db import models
from django.db.models import Q

from hidewright.defaults import CURE, TOUCH_DRY

from .mixing import MixEntry


class Product(models.Model):
    """One product with the facts of its data sheet; units as in `hidewright.takeoff.products`."""

    key = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=80)
    role = models.CharField(max_length=20)
    density = models.FloatField(default=1.0, help_text="g/mL")
    solids = models.FloatField(default=0.0, help_text="share of the volume that stays when dry")
    pack = models.FloatField(default=1000.0, help_text="mL")
    price = models.DecimalField(max_digits=10, decimal_places=2, default=0, help_text="money a pack")
    ratio = models.FloatField(default=0.0, help_text="crosslinker: share of the mix")
    pot_life = models.FloatField(null=True, blank=True, help_text="min")
    touch_dry = models.FloatField(default=TOUCH_DRY, help_text="min")
    cure = models.FloatField(default=CURE, help_text="min")
    lel = models.FloatField(null=True, blank=True, help_text="% by volume")
    flash = models.FloatField(null=True, blank=True, help_text="°C")
    limit_ppm = models.FloatField(null=True, blank=True)
    voc = models.FloatField(null=True, blank=True, help_text="g/L of the material")
    molar_mass = models.FloatField(null=True, blank=True, help_text="g/mol")
    shelf = models.FloatField(null=True, blank=True, help_text="days it keeps once opened")
    warm_cure = models.FloatField(null=True, blank=True, help_text="min at warm_at, by the data sheet")
    warm_at = models.FloatField(null=True, blank=True, help_text="°C")
    notes = models.CharField(max_length=240, blank=True)
    active = models.BooleanField(default=True)
    version = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(density__gt=0, pack__gt=0, price__gte=0, solids__gte=0, solids__lte=1),
                name="product_can_be",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class ProductLot(models.Model):
    """One lot of a product, as it came."""

    product = models.ForeignKey(Product, on_delete=models.CASCADE, related_name="lots")
    name = models.CharField(max_length=60, help_text="what stands on the can")
    received = models.DateField(null=True, blank=True)
    opened = models.DateField(null=True, blank=True)
    keep_until = models.DateField(null=True, blank=True)
    finished = models.DateField(null=True, blank=True)
    made = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-made", "-id"]
        constraints = [models.UniqueConstraint(fields=["product", "name"], name="product_lot_once")]

    def __str__(self) -> str:
        return f"{self.product.name}, lot {self.name}"


class StockMove(models.Model):
    """A movement of stock: in above nothing, out below. Movements are only added; a mistake is put right by another."""

    product = models.ForeignKey(Product, on_delete=models.CASCADE, related_name="moves")
    lot = models.ForeignKey(ProductLot, null=True, blank=True, on_delete=models.PROTECT, related_name="moves")
    millilitres = models.FloatField()
    why = models.CharField(max_length=120)
    entry = models.ForeignKey(
        MixEntry,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="stock_moves",
        help_text="the pour (or counter-entry) at the bench that it comes from",
    )
    made = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-id"]
        constraints = [models.CheckConstraint(condition=~Q(millilitres=0), name="stock_moves")]

    def __str__(self) -> str:
        return f"{self.product.name}: {self.millilitres:+.0f} mL, {self.why}"
