"""Mixing: vessels, and the append-only book of everything poured, split, boxed, crosslinked, used and thrown away.

Entries and moves are only ever added. What is in a vessel is worked out from them; no row keeps a level.
"""

from django.db import models
from django.db.models import Q

from hidewright.defaults import CURE, TOUCH_DRY
from hidewright.workshop.shop.models import Device, Job, Person


class MixVessel(models.Model):
    """A cup, a gun load or a jar. `plan` is the recipe that is poured into it, as it was when the cup was begun."""

    class Kind(models.TextChoices):
        """What it is for."""

        CUP = "cup", "cup"
        PORTION = "portion", "gun load"
        JAR = "jar", "jar"

    class Measure(models.TextChoices):
        """How pours are measured."""

        RUNNING = "running", "on the balance, running total"
        EACH = "each", "on the balance, zeroed before each pour"
        DROPS = "drops", "in drops"
        VOLUME = "mL", "in mL"

    job = models.ForeignKey(Job, null=True, blank=True, on_delete=models.CASCADE, related_name="vessels")
    colour_number = models.PositiveSmallIntegerField(
        default=0, help_text="which of the job's colours is in it"
    )
    like = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.SET_NULL, related_name="made_like_it",
        help_text="the vessel whose mix it makes again, and is compared with",
    )  # fmt: skip
    kind = models.CharField(max_length=8, choices=Kind.choices)
    name = models.CharField(max_length=60)
    capacity = models.BigIntegerField(help_text="µL to the line")
    tare = models.FloatField(
        default=0.0, help_text="g of the empty vessel; 0 when the balance was zeroed with it"
    )
    measure = models.CharField(max_length=8, choices=Measure.choices, default=Measure.RUNNING)
    grain = models.FloatField(default=0.1, help_text="g, the balance's last digit")
    recipe = models.ForeignKey(
        "workshop.Recipe", null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    plan = models.JSONField(
        null=True, blank=True, help_text="name and parts (key, name, share, density, hex)"
    )
    aim = models.BigIntegerField(null=True, blank=True, help_text="µL to mix")
    accepted = models.DateTimeField(
        null=True, blank=True, help_text="taken as it is, though not to the recipe"
    )
    turns = models.PositiveIntegerField(default=0, help_text="entries so far that touch it")
    pot_life = models.FloatField(null=True, blank=True, help_text="min, from the crosslinker's data sheet")
    kept_on = models.DateField(null=True, blank=True)
    keep_until = models.DateField(null=True, blank=True)
    made = models.DateTimeField(auto_now_add=True)
    put_away = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=Q(capacity__gt=0), name="vessel_holds_something"),
            models.CheckConstraint(condition=Q(tare__gte=0), name="vessel_tare_can_be"),
            models.CheckConstraint(condition=Q(aim__gt=0) | Q(aim=None), name="vessel_aim_can_be"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def key(self) -> str:
        """Its name in the ledger."""
        return f"v{self.pk}"


class ShopVessel(models.Model):
    """A cup, pot or bucket that the shop has; a mix is offered the smallest one that takes it."""

    name = models.CharField(max_length=60)
    capacity = models.BigIntegerField(help_text="µL to the line")
    tare = models.FloatField(default=0.0, help_text="g empty; 0 when it was not weighed")
    removed = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["capacity", "id"]
        constraints = [
            models.CheckConstraint(condition=Q(capacity__gt=0), name="shop_vessel_holds_something")
        ]

    def __str__(self) -> str:
        return self.name


class MixComponent(models.Model):
    """What can stand in a vessel: name, density and screen colour as last poured."""

    key = models.CharField(max_length=60, primary_key=True)
    name = models.CharField(max_length=80)
    density = models.FloatField(help_text="g/mL")
    hex = models.CharField(max_length=7, blank=True)
    drop = models.FloatField(null=True, blank=True, help_text="mL of one drop of its bottle, as calibrated")
    crosslinker = models.BooleanField(default=False)

    def __str__(self) -> str:
        return self.name


class MixEntry(models.Model):
    """One line of the book. `token` comes from the form, so that a double tap is kept once; its key gives the order."""

    job = models.ForeignKey(Job, null=True, blank=True, on_delete=models.CASCADE, related_name="mix_entries")
    act = models.CharField(max_length=12)
    counters = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="countered_by"
    )
    token = models.CharField(max_length=64, unique=True, null=True, blank=True)
    text = models.CharField(max_length=200)
    note = models.CharField(max_length=200, blank=True)
    person = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL)
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["id"]
        verbose_name_plural = "mix entries"

    def __str__(self) -> str:
        return self.text


class MixMove(models.Model):
    """`amount` µL of one component's lot from one place to another: v12 (a vessel), stock, sprayed or waste."""

    entry = models.ForeignKey(MixEntry, on_delete=models.CASCADE, related_name="moves")
    source = models.CharField(max_length=24)
    target = models.CharField(max_length=24)
    component = models.CharField(max_length=60)
    lot = models.CharField(max_length=60, blank=True)
    amount = models.BigIntegerField()

    class Meta:
        ordering = ["id"]
        constraints = [models.CheckConstraint(condition=Q(amount__gt=0), name="move_moves_something")]
        indexes = [models.Index(fields=["component", "lot"])]

    def __str__(self) -> str:
        return f"{self.amount} µL {self.component} {self.source} → {self.target}"


class MixTurn(models.Model):
    """The place of an entry in the sequence of one vessel: no two entries share one, however many write at once."""

    vessel = models.ForeignKey(MixVessel, on_delete=models.CASCADE, related_name="sequence")
    entry = models.ForeignKey(MixEntry, on_delete=models.CASCADE, related_name="turns")
    seq = models.PositiveIntegerField()

    class Meta:
        ordering = ["vessel", "seq"]
        constraints = [
            models.UniqueConstraint(fields=["vessel", "seq"], name="vessel_turn_once"),
            models.UniqueConstraint(fields=["vessel", "entry"], name="vessel_entry_once"),
        ]

    def __str__(self) -> str:
        return f"{self.vessel} {self.seq}"


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


class Pigment(models.Model):
    """A pigment dispersion of the shop. Spectra are lists of 31 numbers, 400 to 700 nm by 10 nm, per µm of dry film; empty until found."""

    key = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=80)
    index = models.CharField(max_length=40, blank=True, help_text="Colour Index generic name")
    density = models.FloatField(default=1.2, help_text="g/mL of the dispersion")
    solids = models.FloatField(default=0.4, help_text="share of the volume that stays when dry, 0..1")
    price = models.DecimalField(max_digits=10, decimal_places=2, default=0, help_text="money per litre")
    note = models.CharField(max_length=160, blank=True)
    k = models.JSONField(null=True, blank=True)
    s = models.JSONField(null=True, blank=True)
    k_sd = models.JSONField(null=True, blank=True, help_text="relative")
    s_sd = models.JSONField(null=True, blank=True, help_text="relative")
    provenance = models.CharField(
        max_length=200, blank=True, help_text="where K and S come from; empty: from the shop’s own drawdowns"
    )
    misfit = models.JSONField(default=dict, blank=True, help_text="drawdown → ΔE00 over black, over white")
    learned = models.JSONField(
        null=True, blank=True, help_text="K, S, strength and spread by what cups told since"
    )
    undetermined = models.BooleanField(default=False, help_text="its scattering could not be told")
    characterised = models.DateTimeField(null=True, blank=True)
    on_shelf = models.BooleanField(default=True)
    load = models.FloatField(
        default=1.0,
        help_text="share of its volume that counts as pigment: 1, or less for a leftover of mixed colour that nobody logged",
    )
    active = models.BooleanField(default=True)
    version = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=Q(load__gt=0, load__lte=1), name="pigment_load_can_be"),
            models.CheckConstraint(
                condition=Q(density__gte=0.5, density__lte=6.0), name="pigment_density_can_be"
            ),
            models.CheckConstraint(condition=Q(solids__gt=0, solids__lte=1), name="pigment_solids_can_be"),
        ]

    def __str__(self) -> str:
        return f"{self.name} ({self.key})" if self.key != self.name else self.name


class PigmentLot(models.Model):
    """One bottle or can of a pigment: another lot may be of another strength."""

    pigment = models.ForeignKey(Pigment, on_delete=models.CASCADE, related_name="lots")
    name = models.CharField(max_length=60, help_text="what stands on the bottle")
    volume = models.FloatField(null=True, blank=True, help_text="mL when it came")
    left = models.FloatField(null=True, blank=True, help_text="mL when it was last looked at")
    counted = models.DateTimeField(null=True, blank=True, help_text="when it was last looked at")
    received = models.DateField(null=True, blank=True)
    opened = models.DateField(null=True, blank=True)
    keep_until = models.DateField(null=True, blank=True)
    finished = models.DateField(null=True, blank=True)
    made = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-made", "-id"]
        constraints = [
            models.UniqueConstraint(fields=["pigment", "name"], name="lot_once"),
            models.CheckConstraint(condition=Q(left=None) | Q(left__gte=0), name="lot_is_not_below_nothing"),
        ]

    def __str__(self) -> str:
        return f"{self.pigment.name}, lot {self.name}"
